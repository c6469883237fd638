import { readdir } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Problem } from '../../kernel/intelligence.ts';
import type { Io } from '../io.ts';
import { WrongCall } from '../io.ts';

export const usage = `Usage: upneck check [NOTEBOOK...] [--json]

Type-checks notebooks (default: notebooks/*.lit.md) as wholes, without running
them: each cell sees what the cells before it declare, and its functions also
what later cells do. Every error is printed with the line of the file, the
cell and the line in it.

  --json  print the errors as one JSON document
`;

interface Found extends Problem {
  readonly notebook: string;
  /** 1-based line of the notebook's file. */
  readonly fileLine: number;
  /** 1-based number among the notebook's code cells. */
  readonly number: number;
}

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({ args, allowPositionals: true, options: { json: { type: 'boolean' } } });
  const notebooks = positionals.length > 0 ? positionals : await allNotebooks(io.cwd);
  const problems: Found[] = [];
  for (const name of notebooks) problems.push(...(await check(name, io.cwd)));
  const errors = problems.filter(({ severity }) => severity === 'error').length;
  if (values.json) {
    io.stdout(`${JSON.stringify({ notebooks, errors, problems }, null, 2)}\n`);
  } else {
    for (const { notebook, fileLine, column, number, line, message, code } of problems)
      io.stdout(`${notebook}:${fileLine}:${column}: cell ${number}, line ${line}: ${message} (TS${code})\n`);
    const what = notebooks.length === 1 ? '1 notebook' : `${notebooks.length} notebooks`;
    io.stderr(`Checked ${what}: ${errors === 0 ? 'no' : errors} ${errors === 1 ? 'error' : 'errors'}\n`);
  }
  return errors === 0 ? 0 : 1;
}

async function allNotebooks(cwd: string): Promise<string[]> {
  const names = await readdir(join(cwd, 'notebooks')).catch(() => []);
  const found = names.filter((name) => name.endsWith('.lit.md')).sort();
  if (found.length === 0) throw new WrongCall('there are no notebooks/*.lit.md here; expected the notebooks to check');
  return found.map((name) => `notebooks/${name}`);
}

async function check(name: string, cwd: string): Promise<Found[]> {
  const { readNotebook } = await import('../read-notebook.ts');
  const { Intelligence } = await import('../../kernel/intelligence.ts');
  const { notebookParameters } = await import('../../notebook/parameters.ts');
  const path = resolve(cwd, name);
  const { notebook } = await readNotebook(path, name);
  const folder = dirname(path);
  const parameters = notebookParameters(notebook.metadata, [], { notebook: folder, settings: cwd });
  const cells = notebook.cells.filter(({ kind }) => kind === 'code');
  const intelligence = new Intelligence({ folder, parameters });
  try {
    intelligence.update(cells);
    return intelligence.problems().map((problem) => {
      const index = cells.findIndex(({ id }) => id === problem.cell);
      const fileLine = (cells[index]!.line ?? 1) + problem.line - 1;
      return { notebook: name, fileLine, number: index + 1, ...problem };
    });
  } finally {
    intelligence.dispose();
  }
}
