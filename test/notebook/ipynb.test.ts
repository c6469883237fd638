import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import type { Notebook } from '../../src/notebook/cell.ts';
import { fromIpynb, toIpynb, type ShownNotebook } from '../../src/notebook/ipynb.ts';
import { parseLitMd, printLitMd } from '../../src/notebook/lit-md.ts';
import type { Output } from '../../src/notebook/output.ts';

const shown = (
  text: string,
  outputs: Record<string, Output[]> = {},
  counts: Record<string, number> = {},
): ShownNotebook => ({
  notebook: parseLitMd(text),
  outputs: new Map(Object.entries(outputs)),
  counts: new Map(Object.entries(counts)),
});

const full = shown(
  '---\ntitle: T\nparameters:\n  a: 1\n---\n# Prose\n\n```ts {#load .hidden points=2}\nconst a = "ünï";\n\na\n```\n\n<!-- cell {.note} -->\n\nMore.\n\n```raw {#r}\nraw <text>\n```\n',
  {
    load: [
      { type: 'stream', name: 'stdout', text: 'a\nb\n' },
      {
        type: 'display',
        bundle: { 'text/plain': 'x', 'image/png': 'iVBORw0KGgo=', 'application/json': { rows: ['a', 1] } },
      },
      { type: 'value', bundle: { 'text/plain': "'ünï'", 'text/html': '<b>\nx</b>' } },
      {
        type: 'error',
        error: {
          name: 'TypeError',
          message: 'no',
          at: { cell: 'load', line: 1, column: 7 },
          sourceLine: 'const a = "ünï";',
          stack: ['f'],
        },
      },
    ],
  },
  { load: 3 },
);

/** Runs Python's nbformat (Debian's python3-nbformat, the reference implementation of the format). */
function nbformat(ipynb: string, program: string): string {
  const path = join(mkdtempSync(join(tmpdir(), 'upneck-ipynb-')), 'a.ipynb');
  writeFileSync(path, ipynb);
  execFileSync('/usr/bin/python3', [
    '-W',
    'error',
    '-c',
    `import nbformat, sys\nnb = nbformat.read(sys.argv[1], 4)\n${program}`,
    path,
  ]);
  return readFileSync(path, 'utf8');
}

test('nbformat validates what toIpynb writes, and writes it back byte for byte', () => {
  for (const each of [full, shown(''), shown('  ```ts {#a}\n 1\n```')]) {
    const ipynb = toIpynb(each);
    expect(nbformat(ipynb, 'nbformat.validate(nb)\nnbformat.write(nb, sys.argv[1])')).toBe(ipynb);
  }
});

test('fromIpynb reads what nbformat makes, and toIpynb loses none of it', () => {
  const made = nbformat(
    '{"cells": [], "metadata": {}, "nbformat": 4, "nbformat_minor": 5}',
    `from nbformat.v4.nbbase import new_notebook, new_markdown_cell, new_raw_cell, new_code_cell, new_output
nb = new_notebook(metadata={'kernelspec': {'name': 'other', 'display_name': 'Other', 'language': 'typescript'}, 'authors': [{'name': 'A'}], 'title': 'T'})
nb.cells = [
  new_markdown_cell('# A\\n\\ntext', attachments={'a.png': {'image/png': 'AAAA'}}),
  new_markdown_cell('second', metadata={'collapsed': True, 'odd key': 1, 'tags': ['two words', 'b']}),
  new_raw_cell('raw', metadata={'format': 'text/html'}),
  new_code_cell('1', execution_count=7, metadata={'metadata': {'x': 1}, 'tags': []}, outputs=[
    new_output('stream', name='stderr', text='e\\n'),
    new_output('display_data', {'text/plain': 'a\\nb', 'application/json': {'x': [1]}}, metadata={'image/png': {'width': 3}}),
    new_output('execute_result', {'text/plain': '1'}, execution_count=7),
    new_output('error', ename='E', evalue='v', traceback=['a', 'b'])]),
  new_code_cell(''),
]
nbformat.write(nb, sys.argv[1])`,
  );
  expect(toIpynb(fromIpynb(made))).toBe(
    made.replace(
      '"metadata": {\n    "metadata": {\n     "x": 1\n    },\n    "tags": []\n   }',
      '"metadata": {\n    "metadata": {\n     "x": 1\n    }\n   }',
    ),
  );

  // Through a literate file everything comes back but the outputs, which it does not store.
  const { notebook } = fromIpynb(made);
  const again = parseLitMd(printLitMd(notebook));
  const none = { outputs: new Map(), counts: new Map() };
  const bare = { ...again, cells: again.cells.map((cell) => ({ ...cell, layout: undefined })) } as unknown as Notebook;
  expect(JSON.parse(toIpynb({ ...none, notebook: bare }))).toEqual(JSON.parse(toIpynb({ ...none, notebook })));
});

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
  expect(cells[1]!.outputs![3]!.traceback).toEqual([
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
