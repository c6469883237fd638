import { mkdir, readFile, rm } from 'node:fs/promises';
import { basename, dirname, join, relative, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { CellError } from '../../kernel/cell-error.ts';
import type { Progress } from '../../kernel/protocol.ts';
import type { Cell, Notebook } from '../../notebook/cell.ts';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck run NOTEBOOK [--set NAME=VALUE]... [--out DIR]

Runs a notebook (*.lit.md or *.ipynb) from top to bottom and writes it, with
all it shows, to one HTML page that needs no network: DIR/NAME.html.

  --set NAME=VALUE  give a parameter of the notebook another value than its
                    front matter has; a path starts from the working folder
  --out DIR         folder for the page and for files the cells write
                    (default: out)

Prints the text of cells tagged "summary", and nothing else, on stdout.
When a cell fails, the page is left as it was, and DIR/NAME.failed.html shows
how far the notebook came and what went wrong.
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: { set: { type: 'string', multiple: true, default: [] }, out: { type: 'string', default: 'out' } },
  });
  const [name, ...more] = positionals;
  if (name === undefined || more.length > 0) throw new WrongCall(`found ${positionals.length} notebooks; expected one`);

  const { readNotebook } = await import('../read-notebook.ts');
  const path = resolve(io.cwd, name);
  const { notebook } = await readNotebook(path, name);
  const folder = dirname(path);
  const outputFolder = resolve(io.cwd, values.out);
  const { notebookParameters } = await import('../../notebook/parameters.ts');
  let parameters;
  try {
    parameters = notebookParameters(notebook.metadata, values.set, { notebook: folder, settings: io.cwd });
  } catch (error) {
    if (error instanceof RangeError) throw new WrongCall(error.message);
    throw error;
  }
  if (values.set.length > 0) refuseOwnParameters(notebook, name);

  await mkdir(outputFolder, { recursive: true });
  const { startSession } = await import('../../kernel/session.ts');
  const session = startSession({ folder, values: { parameters, outputFolder } });
  const stop = (): void => void session.interrupt();
  io.signal.addEventListener('abort', stop);
  try {
    return await runCells({ notebook, name, folder, outputFolder, io, session });
  } finally {
    io.signal.removeEventListener('abort', stop);
    await session.dispose();
  }
}

/** A setting must not be overruled without a word: an .ipynb edited in a client may declare its parameters in a cell. */
function refuseOwnParameters({ cells }: Notebook, name: string): void {
  const code = cells.filter(({ kind }) => kind === 'code');
  const index = code.findIndex(({ source }) => /^(?:export\s+)?(?:const|let|var)\s+parameters\b/m.test(source));
  if (index < 0) return;
  const line = code[index]!.line;
  const place = line === undefined ? name : `${name}:${line}`;
  throw new WrongCall(
    `${place}: cell ${index + 1} declares "parameters" itself, so --set would change nothing; change them there, or give each a plain value there, which --set can change`,
  );
}

interface Job {
  readonly notebook: Notebook;
  /** The notebook's path as the person wrote it. */
  readonly name: string;
  readonly folder: string;
  readonly outputFolder: string;
  readonly io: Io;
  readonly session: import('../../kernel/session.ts').Session;
}

async function runCells({ notebook, name, folder, outputFolder, io, session }: Job): Promise<number> {
  const { Outputs } = await import('../../kernel/collect.ts');
  const { progressType } = await import('../../kernel/protocol.ts');
  const { writeWhole } = await import('../write-whole.ts');
  const outputs = new Outputs();
  const cells = notebook.cells.filter((cell) => cell.kind === 'code');
  const bar = progressBar(io);
  const stem = basename(name).replace(/\.lit\.md$|\.md$|\.ipynb$/, '');
  const page = join(outputFolder, `${stem}.html`);
  const failedPage = join(outputFolder, `${stem}.failed.html`);
  const write = async (target: string): Promise<void> => {
    const { printPage } = await import('../../notebook/page.ts');
    const { pictureUrl } = await import('../picture-url.ts');
    const embed = (url: string): string | null => pictureUrl(folder, url);
    const css = await readFile(new URL('../../../shared/page.css', import.meta.url), 'utf8');
    await writeWhole(target, printPage(notebook, { css, title: stem, outputs: outputs.byCell, embed }));
  };

  const stopped = (index: number): number => {
    bar.clear();
    io.stderr(`upneck run: stopped at cell ${index + 1} of ${cells.length}; no page was written\n`);
    return 1;
  };

  for (const [index, cell] of cells.entries()) {
    bar.draw(index, cells.length, '');
    const receive = outputs.receiver(cell.id);
    if (io.signal.aborted) return stopped(index);
    const outcome = await session.run(cell, (bundle, shown) => {
      receive(bundle, shown);
      if (shown.kind !== 'progress') return;
      const { done, total, label } = bundle[progressType] as Progress;
      bar.draw(index + Math.min(1, total > 0 ? done / total : 1), cells.length, label);
    });
    if (outcome.status === 'ok') {
      outputs.value(cell.id, outcome.value);
      continue;
    }
    if (outcome.status === 'interrupted') return stopped(index);
    bar.clear();
    outputs.error(cell.id, outcome.error.failure);
    await write(failedPage);
    io.stderr(explain(outcome.error, notebook.cells, name));
    io.stderr(`${relative(io.cwd, failedPage)} shows how far it came; ${stem}.html was not written.\n`);
    return 1;
  }
  bar.clear();
  await write(page);
  await rm(failedPage, { force: true });
  for (const cell of cells.filter(({ tags }) => tags.includes('summary')))
    for (const text of plainTexts(outputs.byCell.get(cell.id) ?? []))
      io.stdout(text.endsWith('\n') ? text : `${text}\n`);
  io.stderr(`Wrote ${relative(io.cwd, page)}\n`);
  return 0;
}

function plainTexts(outputs: readonly import('../../notebook/output.ts').Output[]): string[] {
  return outputs.flatMap((output) => {
    if (output.type === 'stream') return [output.text];
    const text = output.type === 'error' ? undefined : output.bundle['text/plain'];
    return typeof text === 'string' ? [text] : [];
  });
}

/** Where a cell failed, in the places of the file, with the line and a mark under its column. */
function explain(error: CellError, cells: readonly Cell[], name: string): string {
  const { at, failure } = error;
  const cell = cells.find(({ id }) => id === at.cell)!;
  const number = cells.filter(({ kind }) => kind === 'code').indexOf(cell) + 1;
  const what = `${failure.name}: ${failure.message}\n`;
  if (failure.at === null) return `upneck run: ${name}:${cell.line ?? 1}: cell ${number} failed\n${what}`;
  const line = (cell.line ?? 1) + at.line - 1;
  const head = `upneck run: ${name}:${line}:${at.column}: cell ${number}, line ${at.line}\n${what}`;
  if (failure.sourceLine === '') return head;
  const mark = failure.sourceLine.slice(0, at.column - 1).replace(/\S/g, ' ');
  return `${head}\n  ${failure.sourceLine}\n  ${mark}^\n`;
}

interface Bar {
  draw(done: number, total: number, label: string): void;
  clear(): void;
}

/** A bar on the last line of a terminal; nothing where there is no terminal. */
function progressBar(io: Io): Bar {
  if (!io.isTerminal) return { draw: () => undefined, clear: () => undefined };
  return {
    draw: (done, total, label) => {
      const width = 30;
      const filled = Math.round((width * done) / Math.max(1, total));
      const text = `[${'='.repeat(filled)}${' '.repeat(width - filled)}] cell ${Math.min(total, Math.floor(done) + 1)} of ${total}  ${label}`;
      io.stderr(`\r\x1b[K${text.slice(0, io.columns - 1)}`);
    },
    clear: () => io.stderr('\r\x1b[K'),
  };
}
