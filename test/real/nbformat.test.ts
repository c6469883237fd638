import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { describe, expect, test } from 'vitest';
import type { Notebook } from '../../src/notebook/cell.ts';
import { fromIpynb, toIpynb } from '../../src/notebook/ipynb.ts';
import { parseLitMd, printLitMd } from '../../src/notebook/lit-md.ts';
import { full, shown } from '../notebook/shown-notebook.ts';
import { needs } from '../real-clients.ts';

const client = needs('jupyter');

/** Runs Python's nbformat (Debian's python3-nbformat, the reference implementation of the format). */
function nbformat(ipynb: string, program: string): string {
  const path = join(mkdtempSync(join(tmpdir(), 'upneck-ipynb-')), 'a.ipynb');
  writeFileSync(path, ipynb);
  execFileSync(client.path, [
    '-W',
    'error',
    '-c',
    `import nbformat, sys\nnb = nbformat.read(sys.argv[1], 4)\n${program}`,
    path,
  ]);
  return readFileSync(path, 'utf8');
}

describe.skipIf(!client.found)("Python's nbformat", () => {
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
    const bare = {
      ...again,
      cells: again.cells.map((cell) => ({ ...cell, layout: undefined })),
    } as unknown as Notebook;
    expect(JSON.parse(toIpynb({ ...none, notebook: bare }))).toEqual(JSON.parse(toIpynb({ ...none, notebook })));
  });
});
