import { readFileSync, readdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { fromIpynb, toIpynb } from '../../src/notebook/ipynb.ts';
import { printLitMd } from '../../src/notebook/lit-md.ts';
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
