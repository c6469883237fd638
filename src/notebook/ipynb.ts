import { isDeepStrictEqual } from 'node:util';
import { parse as parseYaml, stringify as stringifyYaml, YAMLParseError } from 'yaml';
import type { Cell, CellLayout, MimeBundle, Notebook, NotebookLayout } from './cell.ts';
import { NotebookSyntaxError, printLitMd } from './lit-md.ts';
import { traceback, type Output } from './output.ts';
import { changeParameters, printParameterCell, readParameterCell } from './parameter-cell.ts';
import { isData, sorted, type Data } from './sorted.ts';

/** A notebook and what its cells have shown, as an .ipynb file holds them. */
export interface ShownNotebook {
  readonly notebook: Notebook;
  /** Outputs by cell id. */
  readonly outputs: ReadonlyMap<string, readonly Output[]>;
  /** Numbers of execution by cell id. */
  readonly counts: ReadonlyMap<string, number>;
}

/** What a notebook of ours says of its language when its author says nothing. */
const ownMetadata: Data = {
  kernelspec: { display_name: 'Upneck', language: 'typescript', name: 'upneck' },
  language_info: { file_extension: '.ts', mimetype: 'text/x-typescript', name: 'typescript' },
};

/**
 * Writes a notebook as an nbformat 4.5 file, in the form nbformat itself writes. The front matter goes into the
 * metadata under `upneck`, except what it has under `jupyter`, which is the metadata. The parameters it declares are
 * also given in a first cell with the tag `parameters`, as other clients know no front matter. How a literate file is
 * laid out is kept only where it is not canonical.
 */
export function toIpynb({ notebook, outputs, counts }: ShownNotebook): string {
  const keepsLayout = notebook.layout !== undefined && printLitMd(notebook) !== printLitMd(bare(notebook));
  const { jupyter } = notebook.metadata;
  const upneck: Data = {};
  // As YAML, because the order of its keys is the author's.
  if (!isDeepStrictEqual(notebook.metadata, jupyter === undefined ? {} : { jupyter }))
    upneck.frontMatter = stringifyYaml(notebook.metadata);
  if (keepsLayout) upneck.layout = notebook.layout;
  const metadata: Data = { ...(isData(jupyter) ? jupyter : ownMetadata) };
  if (Object.keys(upneck).length > 0) metadata.upneck = upneck;
  const cells = notebook.cells.map((cell) => {
    return cellData(cell, keepsLayout, outputs.get(cell.id) ?? [], counts.get(cell.id) ?? null);
  });
  const source = printParameterCell(notebook.metadata.parameters);
  if (source !== null) cells.unshift(parameterCell(source, notebook.cells, counts));
  return `${JSON.stringify(sorted({ cells, metadata, nbformat: 4, nbformat_minor: 5 }), null, 1)}\n`;
}

/** The cell with the front matter's parameters, marked as such for the way back. */
function parameterCell(source: string, cells: readonly Cell[], counts: ReadonlyMap<string, number>): Data {
  let id = 'parameters';
  for (let number = 1; cells.some((cell) => cell.id === id); number += 1) id = `parameters-${number}`;
  const cell: Cell = { kind: 'code', id, source, tags: ['parameters'], metadata: { upneck: { frontMatter: true } } };
  return cellData(cell, false, [], counts.get(id) ?? null);
}

function bare({ metadata, cells }: Notebook): Notebook {
  return {
    metadata,
    cells: cells.map(({ kind, id, source, tags, metadata: data }) => ({ kind, id, source, tags, metadata: data })),
  };
}

function cellData(cell: Cell, keepsLayout: boolean, outputs: readonly Output[], count: number | null): Data {
  const { attachments, ...rest } = cell.metadata;
  const metadata: Data = { ...rest };
  if (cell.tags.length > 0) metadata.tags = cell.tags;
  if (keepsLayout && cell.layout) metadata.upneck = { layout: cell.layout };
  return {
    cell_type: cell.kind,
    id: cell.id,
    metadata,
    source: lines(cell.source),
    ...(isData(attachments) && { attachments }),
    ...(cell.kind === 'code' && {
      execution_count: count,
      outputs: outputs.map((output) => outputData(output, count)),
    }),
  };
}

function outputData(output: Output, count: number | null): Data {
  switch (output.type) {
    case 'display':
      return { output_type: 'display_data', data: bundleData(output.bundle), metadata: output.metadata ?? {} };
    case 'value': {
      const data = bundleData(output.bundle);
      return { output_type: 'execute_result', data, metadata: output.metadata ?? {}, execution_count: count };
    }
    case 'stream':
      return { output_type: 'stream', name: output.name, text: lines(output.text) };
    case 'error': {
      const { name, message } = output.error;
      return { output_type: 'error', ename: name, evalue: message, traceback: traceback(output.error) };
    }
  }
}

function bundleData(bundle: MimeBundle): Data {
  const entries = Object.entries(bundle);
  return Object.fromEntries(
    entries.map(([type, content]) => [type, typeof content === 'string' && isText(type) ? lines(content) : content]),
  );
}

function isJson(type: string): boolean {
  return type === 'application/json' || (type.startsWith('application/') && type.endsWith('+json'));
}

function isText(type: string): boolean {
  return type.startsWith('text/') || type === 'image/svg+xml' || type === 'application/javascript';
}

/** nbformat writes text as a list of lines with their ends. */
function lines(text: string): string[] {
  return text.match(/[^\n]*\n|[^\n]+$/g) ?? [];
}

/**
 * Reads an nbformat 4 file; cells without an id (before 4.5), or with one that is not theirs alone, are given one. The cell with the front matter's parameters
 * is taken out, and a value changed in it goes back to the front matter; when it has become more than names with values
 * it stays, as a cell like any other.
 *
 * @throws {NotebookSyntaxError} when the text is not such a file, or its cells are not TypeScript
 */
export function fromIpynb(text: string): ShownNotebook {
  let data: unknown;
  try {
    data = JSON.parse(text);
  } catch (error) {
    const place = error instanceof Error ? Number(/position (\d+)/.exec(error.message)?.[1] ?? 0) : 0;
    throw new NotebookSyntaxError('The file is not JSON', text.slice(0, place).split('\n').length);
  }
  if (!isData(data) || data.nbformat !== 4 || !Array.isArray(data.cells))
    throw new NotebookSyntaxError(
      'The file is not an nbformat 4 notebook (its "nbformat" is not 4, or it has no "cells")',
      1,
    );
  const metadata = isData(data.metadata) ? data.metadata : {};
  checkLanguage(metadata);
  const { upneck, ...jupyter } = metadata;
  const own = isData(upneck) ? upneck : {};
  const outputs = new Map<string, Output[]>();
  const counts = new Map<string, number>();
  const ids = new Set(data.cells.map((cell: unknown) => (isData(cell) ? cell.id : undefined)));
  const used = new Set<string>();
  let made = 0;
  const front = frontMatter(jupyter, own.frontMatter);
  let declared: unknown = front.parameters;
  const cells = data.cells.flatMap((cell: unknown, index): Cell[] => {
    if (!isData(cell)) throw new NotebookSyntaxError(`Cell ${index + 1} is not an object`, 1);
    let id = typeof cell.id === 'string' && /^[\w-]{1,64}$/.test(cell.id) && !used.has(cell.id) ? cell.id : '';
    while (id === '' || used.has(id)) {
      const next = `cell-${(made += 1)}`;
      if (!ids.has(next)) id = next;
    }
    used.add(id);
    if (cell.cell_type === 'code' && Array.isArray(cell.outputs))
      outputs.set(
        id,
        cell.outputs.map((output) => readOutput(output, index)),
      );
    if (typeof cell.execution_count === 'number') counts.set(id, cell.execution_count);
    const values = isParameterCell(cell) ? readParameterCell(joined(cell.source), declared) : null;
    if (values === null) return [readCell(cell, id, index)];
    declared = values;
    return [];
  });
  const layout = readLayout<NotebookLayout>(own.layout, ['head', 'key', 'tail', 'newline'], 'The notebook');
  const notebook = withParameters({ metadata: front, cells, ...(layout && { layout }) }, declared);
  return { notebook, outputs, counts };
}

function isParameterCell({ cell_type: kind, metadata }: Data): boolean {
  return kind === 'code' && isData(metadata) && isData(metadata.upneck) && metadata.upneck.frontMatter === true;
}

function withParameters(notebook: Notebook, declared: unknown): Notebook {
  const { metadata, layout } = notebook;
  if (declared === metadata.parameters || !isData(declared)) return notebook;
  const changed = { ...notebook, metadata: { ...metadata, parameters: declared } };
  const head = layout ? changeParameters(layout.head, metadata.parameters, declared) : null;
  if (!layout || head === null) return changed;
  return { ...changed, layout: { ...layout, head, key: JSON.stringify(changed.metadata) } };
}

function checkLanguage({ kernelspec, language_info: info }: Data): void {
  const language = (isData(info) ? info.name : undefined) ?? (isData(kernelspec) ? kernelspec.language : undefined);
  if (language === undefined || language === 'typescript') return;
  throw new NotebookSyntaxError(`The notebook's cells are in ${JSON.stringify(language)}; expected "typescript"`, 1);
}

/** The front matter as it was, with the metadata under `jupyter` where they say more than our own do. */
function frontMatter(jupyter: Data, kept: unknown): Data {
  const before = readFrontMatter(kept);
  const saysMore = !isDeepStrictEqual(sorted(jupyter), sorted(ownMetadata));
  if (!saysMore && before.jupyter === undefined) return before;
  return isDeepStrictEqual(sorted(before.jupyter), sorted(jupyter)) ? before : { ...before, jupyter };
}

function readFrontMatter(kept: unknown): Data {
  if (kept === undefined) return {};
  let parsed: unknown;
  try {
    parsed = typeof kept === 'string' ? parseYaml(kept) : null;
  } catch (error) {
    if (!(error instanceof YAMLParseError)) throw error;
  }
  if (isData(parsed)) return parsed;
  throw new NotebookSyntaxError('The metadata "upneck" hold a "frontMatter" that is not YAML; remove it', 1);
}

/** How a literate file was laid out, if it is told: texts under known names. */
function readLayout<Layout>(layout: unknown, names: readonly (keyof Layout & string)[], whose: string): Layout | null {
  if (layout === undefined) return null;
  if (isData(layout) && names.every((name) => typeof layout[name] === 'string')) return layout as Layout;
  throw new NotebookSyntaxError(`${whose} has metadata "upneck" with a "layout" that is none; remove it`, 1);
}

function readSource(source: unknown, index: number): string {
  if (typeof source === 'string' || (Array.isArray(source) && source.every((line) => typeof line === 'string')))
    return joined(source);
  throw new NotebookSyntaxError(`Cell ${index + 1} has a "source" that is not a text or a list of lines`, 1);
}

function readCell(cell: Data, id: string, index: number): Cell {
  const { cell_type: kind } = cell;
  if (kind !== 'markdown' && kind !== 'code' && kind !== 'raw')
    throw new NotebookSyntaxError(
      `Cell ${index + 1} has the type ${JSON.stringify(kind)}; expected markdown, code or raw`,
      1,
    );
  const { tags, upneck, ...rest } = isData(cell.metadata) ? cell.metadata : {};
  const metadata = isData(cell.attachments) ? { ...rest, attachments: cell.attachments } : rest;
  const own = isData(upneck) ? upneck : {};
  const layout = readLayout<CellLayout>(own.layout, ['before', 'text', 'key'], `Cell ${index + 1}`);
  return {
    kind,
    id,
    source: readSource(cell.source, index),
    tags: Array.isArray(tags) ? tags.map(String) : [],
    metadata,
    ...(layout && { layout }),
  };
}

function readOutput(output: unknown, index: number): Output {
  const type = isData(output) ? output.output_type : undefined;
  const problem = `Cell ${index + 1} has an output of the type ${JSON.stringify(type) ?? 'nothing'}`;
  const types = 'stream, display_data, execute_result or error';
  if (!isData(output)) throw new NotebookSyntaxError(`${problem}; expected ${types}`, 1);
  const metadata =
    isData(output.metadata) && Object.keys(output.metadata).length > 0 ? { metadata: output.metadata } : {};
  switch (output.output_type) {
    case 'stream':
      return { type: 'stream', name: output.name === 'stderr' ? 'stderr' : 'stdout', text: joined(output.text) };
    case 'display_data':
      return { type: 'display', bundle: readBundle(output.data), ...metadata };
    case 'execute_result':
      return { type: 'value', bundle: readBundle(output.data), ...metadata };
    case 'error': {
      const stack = Array.isArray(output.traceback) ? output.traceback.map(String) : [];
      const error = { name: String(output.ename), message: String(output.evalue), at: null, sourceLine: '', stack };
      return { type: 'error', error };
    }
    default:
      throw new NotebookSyntaxError(`${problem}; expected ${types}`, 1);
  }
}

function readBundle(data: unknown): MimeBundle {
  const entries = Object.entries(isData(data) ? data : {});
  return Object.fromEntries(
    entries.map(([type, content]) => [type, isJson(type) || !Array.isArray(content) ? content : joined(content)]),
  );
}

function joined(text: unknown): string {
  return Array.isArray(text) ? text.join('') : typeof text === 'string' ? text : '';
}
