import { mkdirSync, mkdtempSync, realpathSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { companionEntry, findPackage } from '../../../src/clients/vscode/find-package.ts';

let folder: string;
beforeEach(() => {
  folder = realpathSync(mkdtempSync(join(tmpdir(), 'upneck-find-')));
});
afterEach(() => rmSync(folder, { recursive: true }));

function place(path: string, name = 'upneck'): string {
  const whole = join(folder, path);
  mkdirSync(join(whole, dirname(companionEntry)), { recursive: true });
  writeFileSync(join(whole, 'package.json'), JSON.stringify({ name }));
  writeFileSync(join(whole, companionEntry), '');
  return whole;
}

test('findPackage takes the nearest package in or above the folder, or among its node_modules', () => {
  const far = place('.');
  expect(findPackage(join(folder, 'a', 'b'), '', folder)).toBe(far);
  const near = place('a/node_modules/upneck');
  expect(findPackage(join(folder, 'a', 'b'), '', folder)).toBe(near);
  place('a/b', 'another');
  expect(findPackage(join(folder, 'a', 'b'), '', folder)).toBe(near);
});

test('findPackage prefers the setting, from the base where it is relative', () => {
  place('.');
  const set = place('elsewhere');
  expect(findPackage(folder, 'elsewhere', folder)).toBe(set);
  expect(findPackage(folder, set, '/')).toBe(set);
});

test('findPackage says where it looked and what to do', () => {
  expect(() => findPackage(folder, '', folder)).toThrow(
    `Cells cannot run: there is no upneck package in ${folder} or above it. Install upneck with npm there, or put its folder into the setting "upneck.path"`,
  );
  expect(() => findPackage(folder, 'gone', folder)).toThrow(
    `The setting "upneck.path" names ${join(folder, 'gone')}, where there is no upneck package that the editor can use; expected the folder of its package.json`,
  );
});
