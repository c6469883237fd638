import { execFileSync } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, utimesSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { expect, test } from 'vitest';
import { bundle } from '../../src/kernel/bundle.ts';
import { openSession } from './open-session.ts';

function sources(): { root: string; make: () => string | null; cache: string } {
  const root = mkdtempSync(join(tmpdir(), 'upneck-bundle-'));
  const folder = pathToFileURL(`${root}/src/`);
  const cache = join(root, 'cache');
  mkdirSync(join(root, 'src/deep'), { recursive: true });
  writeFileSync(join(root, 'src/main.ts'), "import { n } from './deep/n.ts'; console.log(n, import.meta.url);");
  writeFileSync(join(root, 'src/deep/n.ts'), 'export const n: number = 1;');
  const entry = new URL('main.ts', folder);
  return { root, cache, make: () => bundle({ entry, folder, url: entry, cache: pathToFileURL(`${cache}/`) }) };
}

const run = (file: string | null): string => execFileSync(process.execPath, [file!], { encoding: 'utf8' });

test('bundle is one file that Node runs, kept until any of its modules changes', () => {
  const { root, make } = sources();
  const first = make();
  expect(run(first)).toBe(`1 ${pathToFileURL(join(root, 'src/main.ts')).href}\n`);
  expect(make()).toBe(first);
  writeFileSync(join(root, 'src/deep/n.ts'), 'export const n: number = 2;');
  expect(run(make())).toMatch(/^2 /);
  expect(run(first)).toMatch(/^1 /); // a process that has just chosen it still finds it
  utimesSync(first!, 0, 0);
  writeFileSync(join(root, 'src/deep/n.ts'), 'export const n: number = 1;');
  expect(make()).toBe(first); // which counts as use
  writeFileSync(join(root, 'src/deep/n.ts'), 'export const n: number = 4;');
  make();
  expect(existsSync(first!)).toBe(true);
  utimesSync(first!, 0, 0);
  writeFileSync(join(root, 'src/deep/n.ts'), 'export const n: number = 3;');
  make();
  expect(existsSync(first!)).toBe(false);
});

test('bundle gives null where it can keep no file, and for sources with an error', () => {
  const { root, make, cache } = sources();
  writeFileSync(cache, 'a file where the folder should be');
  expect(make()).toBe(null);
  const broken = sources();
  writeFileSync(join(broken.root, 'src/deep/n.ts'), 'export const n: = 1;');
  expect([make(), broken.make()]).toEqual([null, null]);
  expect(root).not.toBe(broken.root);
});

test('a session shows where in the sources of "upneck" an error comes from, and shares arquero with it', async () => {
  const { run, value } = openSession({ 'log.csv': 'instrument,model,string,fret,cents\nA1,Ash,1,12,0.5\n' });
  const outcome = await run("import { cents } from 'upneck';\ncents(-1, 440)");
  expect(outcome).toMatchObject({ status: 'error', error: { failure: { at: { line: 2 } } } });
  expect(JSON.stringify(outcome)).toMatch(/src\/acoustics\/pitch\.ts:\d+/);
  await run("import { readLogs } from 'upneck'; import { ColumnTable } from 'arquero';");
  expect(await value("(await readLogs(['log.csv'])).readings instanceof ColumnTable")).toBe('true');
});

test('modules beside a notebook may name TypeScript without its extension, and import JSON', async () => {
  const { value } = openSession({
    'one.ts': "import { two } from './two'; import { three } from './three.js'; export const all = [two, ...three];",
    'two.ts': 'export const two: number = 2;',
    'three/index.ts': "import list from '../list.json'; export const three: number[] = list;",
    'three.ts': "export { three } from './three/';",
    'list.json': '[3, 4]',
  });
  expect(await value("import { all } from './one'; all")).toBe('[ 2, 3, 4 ]');
});
