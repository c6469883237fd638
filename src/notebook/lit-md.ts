import { fromMarkdown } from 'mdast-util-from-markdown';
import type { Code, Html, RootContent } from 'mdast';
import { parse as parseYaml, stringify as stringifyYaml, YAMLParseError } from 'yaml';
import { parseAttributes, printAttributes, type Attributes } from './attributes.ts';
import type { Cell, CellLayout, Notebook } from './cell.ts';
import { sorted } from './sorted.ts';

/** A notebook's file that cannot be read; `line` is 1-based. */
export class NotebookSyntaxError extends SyntaxError {
  readonly line: number;

  constructor(message: string, line: number) {
    super(message);
    this.line = line;
  }
}

/**
 * Reads a literate notebook: CommonMark with YAML front matter. Fenced `ts` blocks at the top level are code cells,
 * what stands between them is prose. Every cell keeps the exact text it came from, so that
 * `printLitMd(parseLitMd(text)) === text` for every text.
 *
 * @throws {NotebookSyntaxError} when the front matter is not YAML, or two cells have one id
 */
export function parseLitMd(text: string): Notebook {
  const head = /^\uFEFF?(?:---[ \t]*\r?\n(?:[^]*?\r?\n)??(?:---|\.\.\.)[ \t]*(?:\r?\n|$))?/.exec(text)![0];
  const metadata = parseFrontMatter(head);
  const body = text.slice(head.length);
  const tree = fromMarkdown(body);
  const newline = /\r\n|\n/.exec(text)?.[0] === '\r\n' ? '\r\n' : '\n';

  const cells: Cell[] = [];
  const ids = new Set(tree.children.flatMap((node) => (isCode(node) ? (codeAttributes(node, body)?.id ?? []) : [])));
  let made = 0;
  const nextId = (): string => {
    do made += 1;
    while (ids.has(`cell-${made}`));
    return `cell-${made}`;
  };
  let end = 0;
  let pending = '';
  let pendingAttributes: Attributes | null = null;

  const push = (
    kind: Cell['kind'],
    source: string,
    raw: string,
    attributes: Attributes,
    sourceOffset: number,
  ): void => {
    const { tags, metadata } = attributes;
    const id = attributes.id ?? nextId();
    const line = head.split('\n').length + body.slice(0, sourceOffset).split('\n').length - 1;
    const cell = { kind, id, source: source.replace(/\r\n?/g, '\n'), tags, metadata };
    if (attributes.id !== null && cells.some((other) => other.id === id))
      throw new NotebookSyntaxError(`Two cells have the id "${id}"; expected each id once`, line);
    const layout: CellLayout = { before: pending, text: raw, key: keyOf(cell) };
    cells.push({ ...cell, line, layout });
    pending = '';
  };
  const prose = (from: number, to: number): void => {
    const part = body.slice(from, to);
    const before = /^(?:[ \t]*\r?\n)*/.exec(part)![0];
    const raw = part.slice(before.length).trimEnd();
    if (raw === '' && pendingAttributes === null) {
      pending += part;
      return;
    }
    const attributes = pendingAttributes ?? { id: null, tags: [], metadata: {} };
    const comment = pendingAttributes === null ? 0 : /^.*-->[ \t]*(?:\r?\n(?:[ \t]*\r?\n)*)?/.exec(raw)![0].length;
    pending += before;
    push('markdown', raw.slice(comment), raw, attributes, from + before.length + comment);
    pending = part.slice(before.length + raw.length);
    pendingAttributes = null;
  };

  for (const node of tree.children) {
    const start = lineStart(body, node.position!.start.offset!);
    if (isCode(node)) {
      const attributes = codeAttributes(node, body);
      if (attributes === null) continue;
      prose(end, start);
      end = node.position!.end.offset!;
      const raw = body.slice(start, end);
      const firstLine = /^.*(?:\r?\n|$)/.exec(raw)![0].length;
      push(node.lang === 'raw' ? 'raw' : 'code', node.value, raw, attributes, start + firstLine);
    } else if (isBoundary(node)) {
      prose(end, start);
      end = start;
      pendingAttributes = boundaryAttributes(node)!;
    }
  }
  prose(end, body.length);
  return { metadata, cells, layout: { head, key: JSON.stringify(metadata), tail: pending, newline } };
}

function parseFrontMatter(head: string): Record<string, unknown> {
  const yaml = head.replace(/^\uFEFF?---[ \t]*\r?\n/, '').replace(/(?:---|\.\.\.)[ \t]*(?:\r?\n)?$/, '');
  if (yaml === head || yaml.trim() === '') return {};
  let data: unknown;
  try {
    data = parseYaml(yaml);
  } catch (error) {
    if (!(error instanceof YAMLParseError)) throw error;
    const line = (error.linePos?.[0].line ?? 1) + 1;
    const message = error.message.replace(/ at line \d+, column \d+:[^]*$/, '');
    throw new NotebookSyntaxError(`The front matter is not YAML: ${message}`, line);
  }
  if (data === null || data === undefined) return {};
  if (typeof data !== 'object' || Array.isArray(data))
    throw new NotebookSyntaxError(
      'The front matter is not a list of names with values, such as "title: A question"',
      2,
    );
  return data as Record<string, unknown>;
}

function isCode(node: RootContent): node is Code {
  return node.type === 'code';
}

/** Attributes of a fence that is a cell, or null for code that is only shown. */
function codeAttributes(node: Code, body: string): Attributes | null {
  if (node.lang !== 'ts' && node.lang !== 'typescript' && node.lang !== 'raw') return null;
  // As written: the parser has already undone escapes of CommonMark, which JSON in attributes does not know.
  const firstLine = /^.*/.exec(body.slice(node.position!.start.offset))![0];
  return parseAttributes(/^[`~]+[ \t]*[a-z]+(.*)$/.exec(firstLine)?.[1] ?? '');
}

/** A comment that starts another cell of prose, which nothing else would part from the one before. */
function isBoundary(node: RootContent): node is Html {
  return node.type === 'html' && boundaryAttributes(node) !== null;
}

function boundaryAttributes(node: Html): Attributes | null {
  const inner = /^<!-- cell((?: \{.*\})?) -->/.exec(node.value)?.[1];
  return inner === undefined ? null : parseAttributes(inner);
}

function lineStart(text: string, offset: number): number {
  return text.lastIndexOf('\n', offset - 1) + 1;
}

function keyOf({ kind, id, source, tags, metadata }: Cell): string {
  return JSON.stringify([kind, id, source, tags, sorted(metadata)]);
}

/** Writes a notebook as a literate file: unchanged parts as they were read, changed ones in canonical form. */
export function printLitMd(notebook: Notebook): string {
  const { layout } = notebook;
  const newline = layout?.newline ?? '\n';
  const isHeadKept = layout?.key === JSON.stringify(notebook.metadata);
  const mark = layout?.head.startsWith('\uFEFF') ? '\uFEFF' : '';
  let text = isHeadKept ? layout.head : withNewlines(printFrontMatter(notebook, mark), newline);
  let previous: Cell | null = null;
  let isPreviousKept = true;
  for (const cell of notebook.cells) {
    const isKept =
      cell.layout?.key === keyOf(cell) && !(runsTogether(cell, previous) && !cell.layout.text.startsWith('<!-- cell'));
    const before = cell.layout?.before;
    const isGapKept = before !== undefined && (previous === null || isBlankLine(before) || (isKept && isPreviousKept));
    text += isGapKept ? before : previous === null ? '' : newline + newline;
    text += isKept ? cell.layout.text : withNewlines(printCell(cell, previous), newline);
    previous = cell;
    isPreviousKept = isKept;
  }
  return text + (layout?.tail ?? (previous === null ? '' : newline));
}

/** Two cells of prose that nothing parts. */
function runsTogether(cell: Cell, previous: Cell | null): boolean {
  return cell.kind === 'markdown' && previous?.kind === 'markdown';
}

function isBlankLine(gap: string): boolean {
  return /\n[ \t]*\r?\n/.test(gap);
}

function printFrontMatter({ metadata }: Notebook, mark: string): string {
  return Object.keys(metadata).length === 0 ? mark : `${mark}---\n${stringifyYaml(metadata)}---\n`;
}

function printCell(cell: Cell, previous: Cell | null): string {
  const isMade = /^cell-\d+$/.test(cell.id);
  const attributes = printAttributes({ id: isMade ? null : cell.id, tags: cell.tags, metadata: cell.metadata });
  if (cell.kind === 'markdown') {
    const needsBoundary = attributes !== '' || runsTogether(cell, previous) || cell.source.trim() === '';
    return needsBoundary ? `<!-- cell${attributes} -->\n\n${cell.source}`.trimEnd() : cell.source;
  }
  const longest = Math.max(2, ...[...cell.source.matchAll(/^ *(`{3,})/gm)].map((match) => match[1]!.length));
  const fence = '`'.repeat(longest + 1);
  return `${fence}${cell.kind === 'code' ? 'ts' : 'raw'}${attributes}\n${cell.source}${cell.source === '' ? '' : '\n'}${fence}`;
}

function withNewlines(text: string, newline: string): string {
  return text.replace(/\r?\n/g, newline);
}
