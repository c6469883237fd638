import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { builtinModules } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { strFromU8, unzipSync } from 'fflate';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { cellLanguage, notebookType } from '../../../src/clients/vscode/document.ts';

interface Manifest {
  readonly version: string;
  readonly capabilities: { readonly untrustedWorkspaces: { readonly supported: unknown } };
  readonly contributes: {
    readonly commands: readonly { readonly command: string }[];
    readonly notebooks: readonly { readonly type: string }[];
    readonly languages: readonly { readonly id: string }[];
  };
}

const folder = mkdtempSync(join(tmpdir(), 'upneck-pack-'));
afterAll(() => rmSync(folder, { recursive: true }));

function pack(name: string): Buffer {
  const target = join(folder, name);
  execFileSync(process.execPath, ['--import', 'tsx', 'src/clients/vscode/pack.ts', target]);
  return readFileSync(target);
}

let packed: Buffer;
const text = (name: string): string => strFromU8(unzipSync(packed)[name]!);
beforeAll(() => {
  packed = pack('one.vsix');
});

test('the package holds no node_modules and asks for nothing but Node and the editor', () => {
  expect(Object.keys(unzipSync(packed)).filter((name) => name.includes('node_modules'))).toEqual([]);
  const asked = [...text('extension/extension.js').matchAll(/\brequire\("([^"]+)"\)/g)].map((match) => match[1]!);
  const known = [...builtinModules, ...builtinModules.map((name) => `node:${name}`), 'vscode'];
  expect(asked).toContain('vscode');
  expect(asked.filter((name) => !known.includes(name))).toEqual([]);
});

test('the package holds the licence of everything in it', () => {
  const notices = text('extension/third-party-licenses.txt');
  for (const [name, file] of [
    ['yaml', 'LICENSE'],
    ['micromark', 'license'],
  ] as const)
    expect(notices).toContain(`# ${name}\n\n${readFileSync(join('node_modules', name, file), 'utf8').trim()}`);
});

test('the package is the same whenever it is packed', () => {
  expect(pack('two.vsix').equals(packed)).toBe(true);
});

test('the manifest names what the code registers, and no workspace that is not trusted', () => {
  const manifest = JSON.parse(text('extension/package.json')) as Manifest;
  const { version } = JSON.parse(readFileSync('package.json', 'utf8')) as { version: string };
  expect(manifest.version).toBe(version);
  expect(text('extension.vsixmanifest')).toContain(`Version="${version}"`);
  expect(manifest.capabilities.untrustedWorkspaces.supported).toBe('limited');
  expect(manifest.contributes.notebooks.map(({ type }) => type)).toEqual([notebookType]);
  expect(manifest.contributes.languages.map(({ id }) => id)).toEqual([cellLanguage]);
  const code = readFileSync('src/clients/vscode/commands.ts', 'utf8');
  const registered = [...code.matchAll(/'(upneck\.\w+)'/g)].map((match) => match[1]).sort();
  expect(manifest.contributes.commands.map(({ command }) => command).sort()).toEqual(registered);
});
