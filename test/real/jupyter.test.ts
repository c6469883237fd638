import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, rmSync, symlinkSync, copyFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { needs } from '../real-clients.ts';

const client = needs('jupyter');

/** Jupyter knows no front matter: as its tools do, values for `parameters` come in a cell put before the others. */
const prepare = `
import nbformat, sys
notebook = nbformat.read('notebooks/house-standard.ipynb', 4)
nbformat.validate(notebook)
cell = nbformat.v4.new_code_cell(sys.argv[1])
notebook.cells.insert(0, cell)
nbformat.write(notebook, 'notebooks/with-values.ipynb')
`;

describe.skipIf(!client.found)('Jupyter clients', () => {
  let folder = '';
  const upneck = resolve('src/clients/upneck.mjs');
  const call = (program: string, ...args: string[]): string =>
    execFileSync(program, args, {
      cwd: folder,
      env: { ...process.env, JUPYTER_DATA_DIR: join(folder, 'jupyter') },
      encoding: 'utf8',
      stdio: 'pipe',
    });

  beforeAll(() => {
    folder = mkdtempSync(join(tmpdir(), 'upneck-jupyter-'));
    for (const name of ['data', 'shared']) symlinkSync(resolve(name), join(folder, name));
    mkdirSync(join(folder, 'notebooks'));
    copyFileSync('notebooks/house-standard.lit.md', join(folder, 'notebooks/house-standard.lit.md'));
    call(process.execPath, upneck, 'kernel', 'install');
  });

  afterAll(() => rmSync(folder, { recursive: true }));

  test('nbconvert runs the converted house standard to the same file as the command line', { timeout: 240_000 }, () => {
    call(process.execPath, upneck, 'convert', 'notebooks/house-standard.lit.md');
    const parameters = {
      logs: join(folder, 'data/demo'),
      usage: join(folder, 'shared/usage/whole-neck.csv'),
      loss: 'audible',
      audible: 3,
    };
    call('/usr/bin/python3', '-c', prepare, `const parameters = ${JSON.stringify(parameters)};`);
    const run = ['-m', 'nbconvert', '--to', 'notebook', '--execute', 'notebooks/with-values.ipynb'];
    call('/usr/bin/python3', ...run, '--output', 'done.ipynb');
    call(process.execPath, upneck, 'run', 'notebooks/house-standard.lit.md', '--out', 'line');
    for (const name of ['house-standard.csv', 'rejects.csv'])
      expect(readFileSync(join(folder, 'notebooks/out', name), 'utf8')).toBe(
        readFileSync(join(folder, 'line', name), 'utf8'),
      );
  });

  test('nbclient keeps values, displays and the line of an error', () => {
    const program = join(folder, 'run.py');
    writeFileSync(
      program,
      `import json, nbformat, nbclient
cells = ["const a: number = 6; a * 7", "display(mime.html('<b>x</b>'))", "throw new RangeError('here')"]
notebook = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
nbclient.NotebookClient(notebook, kernel_name='upneck', timeout=60, allow_errors=True).execute()
nbformat.validate(notebook)
print(json.dumps([cell.outputs for cell in notebook.cells]))
`,
    );
    expect(JSON.parse(call('/usr/bin/python3', program))).toMatchObject([
      [{ output_type: 'execute_result', data: { 'text/plain': '42' } }],
      [{ output_type: 'display_data', data: { 'text/html': '<b>x</b>' } }],
      [{ output_type: 'error', ename: 'RangeError', evalue: 'here' }],
    ]);
  });
});
