import { execFile } from 'node:child_process';
import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { expect, test } from 'vitest';

const launcher = resolve('src/clients/upneck.mjs');

function upneck(cwd: string, ...args: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  return new Promise((done) => {
    execFile(process.execPath, [launcher, ...args], { cwd }, (error, stdout, stderr) => {
      done({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

function folderWith(files: Record<string, string>): string {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-check-'));
  mkdirSync(join(folder, 'notebooks'));
  for (const [name, content] of Object.entries(files)) writeFileSync(join(folder, name), content);
  return folder;
}

test('upneck check finds errors across cells, in the lines of the file', async () => {
  const folder = folderWith({
    'notebooks/good.lit.md': '```ts\nconst a: number = 1;\n```\n\n```ts\na.toFixed()\n```\n',
    'notebooks/bad.lit.md':
      '---\nparameters:\n  n: 1\n---\nText.\n\n```ts\nconst a = parameters.n;\n```\n\n```ts\n1;\na.length;\n```\n',
    'notebooks/other.md': 'not a notebook',
  });
  expect(await upneck(folder, 'check')).toEqual({
    code: 1,
    stdout: "notebooks/bad.lit.md:13:3: cell 2, line 2: Property 'length' does not exist on type 'number'. (TS2339)\n",
    stderr: 'Checked 2 notebooks: 1 error\n',
  });
  expect(await upneck(folder, 'check', 'notebooks/good.lit.md')).toEqual({
    code: 0,
    stdout: '',
    stderr: 'Checked 1 notebook: no errors\n',
  });
  const json = JSON.parse((await upneck(folder, 'check', 'notebooks/bad.lit.md', '--json')).stdout) as {
    errors: number;
    problems: unknown[];
  };
  expect(json).toMatchObject({
    errors: 1,
    problems: [{ notebook: 'notebooks/bad.lit.md', fileLine: 13, line: 2, code: 2339 }],
  });
});

test('upneck check without notebooks is a wrong call', async () => {
  const folder = folderWith({});
  expect((await upneck(folder, 'check')).stderr).toContain('there are no notebooks/*.lit.md here');
  expect(await upneck(folder, 'check', 'none.lit.md')).toMatchObject({ code: 2, stdout: '' });
});

test('the notebooks of this repository have no type errors', async () => {
  const { code, stdout } = await upneck(resolve('.'), 'check');
  expect({ code, stdout }).toEqual({ code: 0, stdout: '' });
});
