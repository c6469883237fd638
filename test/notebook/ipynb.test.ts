import { readFileSync, readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { fromIpynb, toIpynb } from '../../src/notebook/ipynb.ts';
import { NotebookSyntaxError, printLitMd } from '../../src/notebook/lit-md.ts';
import { full, shown } from './shown-notebook.ts';

const texts = [
  '',
  'prose\n',
  '---\ntitle: T\n---\nprose\n\n```ts {#a .b}\n1\n```\n',
  '---\ntitle: "quoted" # comment\n---\n\n\nprose  \n\n\n~~~typescript\r\n1\n~~~\nend',
  '\uFEFFa\r\n\r\n```ts\r\n1\r\n```\r\n',
  '---\njupyter:\n  kernelspec: { name: x, display_name: X, language: typescript }\ntitle: T\n---\n```ts\n```\n',
  '---\ntitle: T\njupyter: { a: 1 }\n---\n',
];
test.each(texts)('a literate file comes back from .ipynb byte for byte: %j', (text) => {
  expect(printLitMd(fromIpynb(toIpynb(shown(text))).notebook)).toBe(text);
});

test('every notebook of this repository comes back from .ipynb byte for byte', () => {
  for (const name of readdirSync('notebooks').filter((file) => file.endsWith('.lit.md'))) {
    const text = readFileSync(`notebooks/${name}`, 'utf8');
    expect(printLitMd(fromIpynb(toIpynb(shown(text))).notebook)).toBe(text);
  }
});

test('toIpynb keeps no layout for a canonical file', () => {
  expect(toIpynb(full)).not.toContain('layout');
  expect(toIpynb(shown('a\n\n\nb\n'))).not.toContain('layout');
  expect(toIpynb(shown('\na\n'))).toContain('layout');
});

test('an .ipynb edited elsewhere keeps the literate form of what was not touched', () => {
  const data = JSON.parse(toIpynb(shown('a  \n\n\n\n~~~ts\n1\n~~~\nb\n'))) as { cells: { source: string[] }[] };
  data.cells[2]!.source = ['c'];
  expect(printLitMd(fromIpynb(JSON.stringify(data)).notebook)).toBe('a  \n\n\n\n~~~ts\n1\n~~~\n\nc\n');
});

test('toIpynb writes errors with the place and the line of the source', () => {
  const { cells } = JSON.parse(toIpynb(full)) as { cells: { outputs?: { traceback?: string[] }[] }[] };
  expect(cells[2]!.outputs![3]!.traceback).toEqual([
    'TypeError: no',
    '',
    '    const a = "ünï";',
    '          ^',
    '  at f',
  ]);
});

test('fromIpynb gives cells ids where a file before nbformat 4.5 has none', () => {
  const old =
    '{"nbformat":4,"nbformat_minor":2,"metadata":{},"cells":[{"cell_type":"code","id":"cell-1","metadata":{},"source":"1"},{"cell_type":"markdown","metadata":{},"source":["a\\n","b"]}]}';
  expect(fromIpynb(old).notebook.cells).toEqual([
    { kind: 'code', id: 'cell-1', source: '1', tags: [], metadata: {} },
    { kind: 'markdown', id: 'cell-2', source: 'a\nb', tags: [], metadata: {} },
  ]);
});

test('fromIpynb refuses what is no notebook of ours, and says why', () => {
  expect(() => fromIpynb('{"cells": [\n  oops')).toThrow('The file is not JSON');
  expect(() => fromIpynb('[]')).toThrow('The file is not an nbformat 4 notebook');
  expect(() => fromIpynb('{"nbformat": 3, "worksheets": []}')).toThrow('its "nbformat" is not 4');
  expect(() => fromIpynb('{"nbformat":4,"metadata":{"kernelspec":{"language":"python"}},"cells":[]}')).toThrow(
    'The notebook\'s cells are in "python"; expected "typescript"',
  );
  expect(() => fromIpynb('{"nbformat":4,"cells":[{"cell_type":"heading"}]}')).toThrow('Cell 1 has the type "heading"');
});

const notebookOf = (cells: unknown[], metadata = {}): string =>
  JSON.stringify({ nbformat: 4, nbformat_minor: 5, metadata, cells });

test("fromIpynb gives a cell whose id is another one's, or none nbformat allows, an id of its own", () => {
  const cell = { cell_type: 'markdown', metadata: {}, source: 'a' };
  const { notebook } = fromIpynb(notebookOf(['a', 'a', 'two words', 'cell-1', ''].map((id) => ({ ...cell, id }))));
  expect(notebook.cells.map(({ id }) => id)).toEqual(['a', 'cell-2', 'cell-3', 'cell-1', 'cell-4']);
});

test.each([
  ['a source of no text', [{ cell_type: 'code', source: 5 }], 'Cell 1 has a "source" that is not a text'],
  ['lines of no text', [{ cell_type: 'raw', source: ['a', null] }], 'Cell 1 has a "source" that is not a text'],
  ['no source', [{ cell_type: 'markdown' }], 'Cell 1 has a "source" that is not a text'],
  ['nothing as a cell', [null], 'Cell 1 is not an object'],
  [
    'an unknown output',
    [{ cell_type: 'code', source: '', outputs: [{ output_type: 'odd' }] }],
    'Cell 1 has an output of the type "odd"; expected stream, display_data, execute_result or error',
  ],
  ['no object as an output', [{ cell_type: 'code', source: '', outputs: [1] }], 'an output of the type nothing'],
  [
    'a layout that is none',
    [{ cell_type: 'code', source: '', metadata: { upneck: { layout: { text: 1 } } } }],
    'Cell 1 has metadata "upneck" with a "layout" that is none; remove it',
  ],
])('fromIpynb refuses a notebook with %s, so that nothing is lost on the way', (_what, cells, message) => {
  expect(() => fromIpynb(notebookOf(cells))).toThrow(message);
  expect(() => fromIpynb(notebookOf(cells))).toThrow(NotebookSyntaxError);
});

test.each([
  [{ frontMatter: 'a: [' }, 'The metadata "upneck" hold a "frontMatter" that is not YAML; remove it'],
  [{ frontMatter: 5 }, 'The metadata "upneck" hold a "frontMatter" that is not YAML; remove it'],
  [{ layout: { head: '' } }, 'The notebook has metadata "upneck" with a "layout" that is none; remove it'],
])('fromIpynb refuses metadata of ours that somebody broke: %j', (upneck, message) => {
  expect(() => fromIpynb(notebookOf([], { upneck }))).toThrow(message);
});

test('fromIpynb reads a file cut anywhere as no notebook, never as a shorter one', () => {
  const whole = toIpynb(full);
  for (let end = 0; end < whole.trimEnd().length; end += 7)
    expect(() => fromIpynb(whole.slice(0, end))).toThrow(NotebookSyntaxError);
});
