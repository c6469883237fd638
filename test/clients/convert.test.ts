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
  expect(await upneck('convert', 'a.txt')).toMatchObject({ code: 2 });
});
