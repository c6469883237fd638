import { readdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { fromEditor, toEditor, type EditorNotebook } from '../../../src/clients/vscode/document.ts';
import { parseLitMd, printLitMd } from '../../../src/notebook/lit-md.ts';

/** What an editor holds is data, and passes between processes as such. */
const opened = (text: string): EditorNotebook => structuredClone(toEditor(parseLitMd(text)));
const saved = (notebook: EditorNotebook): string => printLitMd(fromEditor(structuredClone(notebook)));

const odd = [
  '',
  '\n\n',
  '\uFEFF---\r\ntitle:   "A neck" # remark\r\n---\r\nProse  \r\n\r\n\r\n~~~ts {#one .hidden answer=2}\r\n1\r\n~~~',
  '* stars\n* as a list\n```ts\n\n```\n```python\nnot ours\n```\n',
  'Setext\n======\n\n    indented\n\n```ts\nunclosed',
];
const ours = readdirSync('notebooks').map((name) => readFileSync(join('notebooks', name), 'utf8'));

test.each([...odd, ...ours])('toEditor and fromEditor lose nothing of a file (%#)', (text) => {
  expect(saved(opened(text))).toBe(text);
});

test('fromEditor writes an edited cell anew and leaves its neighbours as they were', () => {
  const text = '# Title\n\n~~~ts\nconst a = 1;\n~~~\n\n\n~~~ts\na\n~~~\n';
  const notebook = opened(text);
  notebook.cells[1]!.value = 'const a = 2;\r\nlet b;';
  expect(saved(notebook)).toBe('# Title\n\n```ts\nconst a = 2;\nlet b;\n```\n\n\n~~~ts\na\n~~~\n');
});

test('fromEditor gives a copied cell and a new one ids of their own, and keeps those of the file', () => {
  const notebook = opened('```ts {#first}\n1\n```\n\n```ts\n2\n```\n');
  const [first, second] = notebook.cells;
  notebook.cells = [first!, first!, { kind: 2, value: '3', languageId: 'upneck-cell' }, second!];
  const { cells } = fromEditor(notebook);
  expect(cells.map(({ id, source }) => [id, source])).toEqual([
    ['first', '1'],
    ['cell-2', '1'],
    ['cell-3', '3'],
    ['cell-1', '2'],
  ]);
});

test('fromEditor follows a cell that has become prose', () => {
  const notebook = opened('```ts\n1\n```\n');
  notebook.cells[0] = { ...notebook.cells[0]!, kind: 1, languageId: 'markdown', value: 'One.' };
  expect(saved(notebook)).toBe('One.\n');
});
