import {
  chmodSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { writeFile, writeFiles } from '../../src/sources/write-file.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'write-file-'));
});
afterEach(() => {
  rmSync(folder, { recursive: true });
});

test('writeFile makes folders, replaces what was there and leaves nothing beside it', async () => {
  const path = join(folder, 'a/b/c.txt');
  await writeFile(path, 'old');
  await writeFile(path, new Uint8Array([0x6e, 0x65, 0x77]));
  expect(readFileSync(path, 'utf8')).toBe('new');
  expect(readdirSync(join(folder, 'a/b'))).toEqual(['c.txt']);
});

test('writeFile leaves the old file whole when it fails, and nothing beside it', async () => {
  mkdirSync(join(folder, 'full'));
  writeFileSync(join(folder, 'full/old.txt'), 'old');
  // A folder with something in it cannot be renamed over: the last step fails.
  await expect(writeFile(join(folder, 'full'), 'new')).rejects.toThrow();
  expect(readdirSync(folder)).toEqual(['full']);
  expect(readFileSync(join(folder, 'full/old.txt'), 'utf8')).toBe('old');
});

test('writeFile writes through a link, and keeps who may read the file', async () => {
  const path = join(folder, 'real.txt');
  writeFileSync(path, 'old');
  chmodSync(path, 0o640);
  symlinkSync(path, join(folder, 'link.txt'));
  await writeFile(join(folder, 'link.txt'), 'new');
  expect(readFileSync(path, 'utf8')).toBe('new');
  expect(statSync(path).mode & 0o777).toBe(0o640);
  expect(readdirSync(folder).sort()).toEqual(['link.txt', 'real.txt']);
});

test('writeFile says in words why it cannot write, and leaves nothing behind', async () => {
  const place = mkdtempSync(join(tmpdir(), 'write-'));
  writeFileSync(join(place, 'file'), 'old');
  mkdirSync(join(place, 'folder', 'full'), { recursive: true });
  await expect(writeFile(join(place, 'file', 'new'), 'x')).rejects.toThrow(
    `${join(place, 'file', 'new')}: cannot be written: a file stands where a folder is needed. Give another place`,
  );
  await expect(writeFile(join(place, 'folder'), 'x')).rejects.toThrow(
    `${join(place, 'folder')}: cannot be written: a folder of that name is in the way. Give another name`,
  );
  expect(readdirSync(place)).toEqual(['file', 'folder']);
  rmSync(place, { recursive: true });
});

// A notebook names files after instruments, and a log names instruments as it likes.
test.each(['../out.html', 'a/b.html', 'a\\b.html', '..', ''])(
  'writeFiles lets the name %j lead nowhere',
  async (name) => {
    await expect(writeFiles(join(folder, 'in'), { 'a.html': 'a', [name]: 'b' })).rejects.toThrow(
      `found the file name "${name}", expected one without a folder`,
    );
    expect(readdirSync(folder)).toEqual([]);
  },
);
