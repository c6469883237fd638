import { execFileSync, spawnSync } from 'node:child_process';
import {
  copyFileSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  readdirSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { fromIpynb } from '../../src/notebook/ipynb.ts';
import type { Output } from '../../src/notebook/output.ts';
import { printPage } from '../../src/notebook/page.ts';
import { needs } from '../real-clients.ts';

const client = needs('jupyter');

const notebooks = readdirSync('notebooks')
  .filter((name) => name.endsWith('.lit.md'))
  .map((name) => name.replace(/\.lit\.md$/, ''));

/** Notebooks that take long are run with less to do, which also shows that a value changed in the .ipynb counts. */
const smaller: Record<string, { readonly from: string; readonly to: string; readonly set: string }> = {
  'trust-in-the-intervals': { from: 'shops: 6', to: 'shops: 2', set: 'shops=2' },
};

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
    for (const name of ['data', 'shared', 'package.json']) symlinkSync(resolve(name), join(folder, name));
    mkdirSync(join(folder, 'notebooks'));
    call(process.execPath, upneck, 'kernel', 'install');
  });

  afterAll(() => rmSync(folder, { recursive: true }));

  test.each(notebooks)(
    'nbconvert runs %s, as converted, to the same page and files as the command line',
    { timeout: 400_000 },
    (name) => {
      const literate = `notebooks/${name}.lit.md`;
      const ipynb = join(folder, `notebooks/${name}.ipynb`);
      copyFileSync(literate, join(folder, literate));
      call(process.execPath, upneck, 'convert', literate);
      const less = smaller[name];
      if (less) {
        const text = readFileSync(ipynb, 'utf8');
        expect(text).toContain(less.from);
        writeFileSync(ipynb, text.replace(less.from, less.to));
      }
      call(client.path, '-m', 'nbconvert', '--to', 'notebook', '--inplace', '--execute', ipynb);
      const line = join(folder, 'line', name);
      call(process.execPath, upneck, 'run', literate, '--out', line, ...(less ? ['--set', less.set] : []));

      const { notebook, outputs } = fromIpynb(readFileSync(ipynb, 'utf8'));
      const kept = new Map([...outputs].map(([id, list]) => [id, joined(list.filter((one) => !isProgress(one)))]));
      const css = readFileSync('shared/page.css', 'utf8');
      const page = printPage(notebook, { css, title: name, outputs: kept });
      const own = join(folder, 'notebooks/out');
      expect(without(page, own)).toBe(without(readFileSync(join(line, `${name}.html`), 'utf8'), line));

      const files = readdirSync(line).filter((file) => file !== `${name}.html`);
      for (const file of files)
        expect(without(readFileSync(join(own, file), 'utf8'), own), file).toBe(
          without(readFileSync(join(line, file), 'utf8'), line),
        );
    },
  );

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
    expect(JSON.parse(call(client.path, program))).toMatchObject([
      [{ output_type: 'execute_result', data: { 'text/plain': '42' } }],
      [{ output_type: 'display_data', data: { 'text/html': '<b>x</b>' } }],
      [{ output_type: 'error', ename: 'RangeError', evalue: 'here' }],
    ]);
  });

  test('jupyter-console shows values, a page about a name, the line of an error, and asks', { timeout: 90_000 }, () => {
    const typed = [
      'const a: number = 6;',
      'a * 7',
      'Math.sqrt?',
      "throw new RangeError('here')",
      "'It is ' + (await ask('Name?'))",
      'Ada',
    ];
    const { status, stdout, stderr } = spawnSync(
      client.path,
      ['-m', 'jupyter_console', '--kernel', 'upneck', '--simple-prompt'],
      {
        cwd: folder,
        env: { ...process.env, JUPYTER_DATA_DIR: join(folder, 'jupyter') },
        encoding: 'utf8',
        input: `${typed.join('\n')}\n`,
      },
    );
    expect(status).toBe(0);
    expect(stdout).toMatch(/Out\[2\]: 42\n/);
    expect(stdout).toContain('(method) Math.sqrt(x: number): number');
    expect(stderr).toContain("RangeError: here\n\n    throw new RangeError('here')\n          ^\n");
    expect(stdout).toMatch(/Name\?Out\[5\]: It is Ada\n/);
  });
});

/** The command line shows progress while it runs, Jupyter as an output that stays. */
function isProgress(output: Output): boolean {
  return output.type === 'display' && JSON.stringify(output.bundle['text/html'] ?? '').includes('<progress ');
}

/** Text of one stream in one piece, however it came. */
function joined(outputs: readonly Output[]): Output[] {
  const all: Output[] = [];
  for (const output of outputs) {
    const last = all.at(-1);
    if (output.type === 'stream' && last?.type === 'stream' && last.name === output.name)
      all.splice(-1, 1, { ...last, text: last.text + output.text });
    else all.push(output);
  }
  return all;
}

/** What may differ between two runs: where and when. */
function without(text: string, folder: string): string {
  return text.replaceAll(folder, 'FOLDER').replace(/\d{4}-\d\d-\d\dT[\d:.]+Z/g, 'TIME');
}
