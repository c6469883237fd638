import { execFile } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { expect, test } from 'vitest';

const launcher = resolve('src/clients/upneck.mjs');
const folder = mkdtempSync(join(tmpdir(), 'upneck-convert-'));

function upneck(...args: string[]): Promise<{ code: number; stdout: string; stderr: string }> {
  return new Promise((done) => {
    execFile(process.execPath, [launcher, ...args], { cwd: folder }, (error, stdout, stderr) => {
      done({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

test('upneck convert goes to .ipynb and back byte for byte, and the .ipynb runs', async () => {
  const text = '---\ntitle: T\n---\nA  \n\n\n~~~ts {.summary}\n1 + 2\n~~~\nend';
  writeFileSync(join(folder, 'a.lit.md'), text);
  expect(await upneck('convert', 'a.lit.md')).toEqual({ code: 0, stdout: '', stderr: 'Wrote a.ipynb\n' });
  expect(await upneck('convert', 'a.ipynb', '--to', 'deep/b.lit.md')).toMatchObject({ code: 0 });
  expect(readFileSync(join(folder, 'deep/b.lit.md'), 'utf8')).toBe(text);
  expect(await upneck('run', 'a.ipynb')).toEqual({ code: 0, stdout: '3\n', stderr: 'Wrote out/a.html\n' });
});

test('upneck convert writes nothing when the notebook cannot be read', async () => {
  writeFileSync(join(folder, 'broken.ipynb'), '{\n"cells": [\n');
  const { code, stderr } = await upneck('convert', 'broken.ipynb');
  expect({ code, stderr }).toEqual({
    code: 1,
    stderr: expect.stringMatching(/^upneck convert: broken\.ipynb:\d+: The file is not JSON\n$/) as string,
  });
  expect(existsSync(join(folder, 'broken.lit.md'))).toBe(false);

  writeFileSync(join(folder, 'twice.lit.md'), 'a\n\n```ts {#x}\n1\n```\n\n```ts {#x}\n2\n```\n');
  writeFileSync(join(folder, 'twice.ipynb'), 'the old one');
  expect(await upneck('convert', 'twice.lit.md')).toEqual({
    code: 1,
    stdout: '',
    stderr: 'upneck convert: twice.lit.md:8: Two cells have the id "x"; expected each id once\n',
  });
  expect(readFileSync(join(folder, 'twice.ipynb'), 'utf8')).toBe('the old one');
  writeFileSync(join(folder, 'cut.lit.md'), Buffer.from('---\ntitle: gr\u00fc\n---\n').subarray(0, 14));
  expect((await upneck('run', 'cut.lit.md')).stderr).toContain('cut.lit.md is not UTF-8 text');
  expect(await upneck('convert', 'a.txt')).toMatchObject({ code: 2 });
});
