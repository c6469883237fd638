import { createHash } from 'node:crypto';
import { mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { LogError } from '../../src/logs/log-error.ts';
import { readLogs } from '../../src/sources/read-logs.ts';

let cwd = '';
const header = 'instrument,model,string,fret,cents\n';
const models = 'model,scale_mm,strings,frets,saddles\n';

beforeAll(() => {
  cwd = mkdtempSync(join(tmpdir(), 'read-logs-'));
  write('shop/a.csv', `${header}I-1,Heron,1,12,1\n`);
  write('shop/b.TSV', `${header.replaceAll(',', '\t')}I-2\tHeron\t1\t12\t1\n`);
  write('shop/notes.md', 'not a log');
  write('shop/.hidden.csv', 'not a log');
  write('shop/Models.csv', `${models}Heron,648,6,22,123456\n`);
  write('shop/2026/c.txt', `${header}I-3,Heron,1,23,1\nI-3,Heron,1,12,1\n`);
  write('other/d.csv', `${header}I-4,Osprey,7,12,1\n`);
  write('other/models.csv', `${models}Osprey,648,7,24,1234567\n`);
  write('clash/models.csv', `${models}Heron,650,6,22,123456\n`);
  write('clash/e.csv', `${header}I-5,Heron,1,12,1\n`);
  write('odd[1]/f.csv', `${header}I-6,Heron,1,12,1\n`);
  write('bare/readme.md', '');
  write('cut/models.csv', `${models}"Heron,648,6,22,123456\n`);
  write('cut/g.csv', header);
  symlinkSync(join(cwd, 'shop'), join(cwd, 'shop/2026/back-up'));
  symlinkSync(join(cwd, 'shop/a.csv'), join(cwd, 'linked.csv'));
});

afterAll(() => {
  rmSync(cwd, { recursive: true });
});

function write(name: string, text: string): void {
  mkdirSync(dirname(join(cwd, name)), { recursive: true });
  writeFileSync(join(cwd, name), text);
}

const pathsOf = async (...words: string[]): Promise<string[]> =>
  (await readLogs(words, { cwd })).files.map(({ path }) => path);

test('readLogs finds the logs of a folder, its sub-folders, a glob and a file, each once', async () => {
  expect(await pathsOf('shop')).toEqual(['shop/2026/c.txt', 'shop/a.csv', 'shop/b.TSV']);
  expect(await pathsOf('./shop/')).toEqual(['shop/2026/c.txt', 'shop/a.csv', 'shop/b.TSV']);
  expect(await pathsOf('shop/*.csv', 'shop')).toEqual(['shop/a.csv', 'shop/2026/c.txt', 'shop/b.TSV']);
  expect(await pathsOf('**/[ab].*')).toEqual(['shop/a.csv', 'shop/b.TSV']);
  expect(await pathsOf('./{shop,other}/?.csv')).toEqual(['other/d.csv', 'shop/a.csv']);
  expect(await pathsOf(join(cwd, 'shop/*.csv'))).toEqual(['shop/a.csv']);
  expect(await pathsOf('linked.csv')).toEqual(['linked.csv']);
  // A folder whose name could be read as a glob is a folder.
  expect(await pathsOf('odd[1]')).toEqual(['odd[1]/f.csv']);
  expect(await pathsOf('odd[1]/f.csv')).toEqual(['odd[1]/f.csv']);
  // A shell writes out shop/* itself, models.csv included.
  expect(await pathsOf('shop/a.csv', 'shop/Models.csv')).toEqual(['shop/a.csv']);
});

test('readLogs reads from the working folder of the call', async () => {
  const log = await readLogs(['../other'], { cwd: join(cwd, 'shop') });
  expect(log.files.map(({ path }) => path)).toEqual([join(cwd, 'other/d.csv')]);
});

test('readLogs finds models.csv beside the logs, and above them up to the folder given', async () => {
  const shop = await readLogs(['shop'], { cwd });
  expect(shop.models.map(({ model }) => model)).toEqual(['Heron']);
  expect(shop.rejects.map(({ file, line, rule }) => [file, line, rule])).toEqual([
    ['shop/2026/c.txt', 2, 'fret-range'],
  ]);
  expect((await readLogs(['shop', 'other'], { cwd })).models.map(({ model }) => model)).toEqual(['Heron', 'Osprey']);
  expect((await readLogs(['shop'], { cwd, models: 'other/models.csv' })).models.map(({ model }) => model)).toEqual([
    'Osprey',
  ]);
});

test('readLogs hashes every file that has a say in the readings', async () => {
  const { files, settings } = await readLogs(['shop/a.csv'], { cwd });
  const sha256 = (text: string): string => createHash('sha256').update(text).digest('hex');
  expect(files).toEqual([
    {
      path: 'shop/a.csv',
      rows: 1,
      readings: 1,
      rejects: 0,
      ignored: [],
      sha256: sha256(`${header}I-1,Heron,1,12,1\n`),
    },
  ]);
  expect(settings).toEqual([{ path: 'shop/Models.csv', sha256: sha256(`${models}Heron,648,6,22,123456\n`) }]);
});

test.each([
  [['nowhere.csv'], 'nowhere.csv', 'there is no such file or folder'],
  [['nowhere/*.csv'], 'nowhere/*.csv', 'no file matches'],
  [['bare'], 'bare', 'the folder holds no log (.csv, .tsv or .txt, models.csv aside)'],
  [['shop/Models.csv'], 'shop/Models.csv', 'a models file, not a log'],
  [['/dev/null'], '/dev/null', 'neither a file nor a folder'],
  [['shop', 'clash'], 'clash/models.csv', 'model "Heron" differs from the one in shop/Models.csv'],
  [
    ['cut'],
    'cut/models.csv',
    'the models file has errors:\n  cut/models.csv:2: found "Heron,648,6,22,123456, expected',
  ],
])('readLogs of %j names the file and what to do', async (words, file, problem) => {
  const error: unknown = await readLogs(words, { cwd }).catch((reason: unknown) => reason);
  expect(error).toBeInstanceOf(LogError);
  expect(error).toMatchObject({ file, advice: expect.stringMatching(/^[A-Z]/) as string });
  expect((error as LogError).message.slice(0, file.length + problem.length + 2)).toBe(`${file}: ${problem}`);
});

test('readLogs stops when it is told to', async () => {
  const controller = new AbortController();
  const reading = readLogs(['shop'], { cwd, signal: controller.signal, progress: () => controller.abort() });
  await expect(reading).rejects.toThrow('aborted');
});

test('readLogs refuses to read nothing', async () => {
  await expect(readLogs([])).rejects.toThrow(
    new RangeError('Cannot read no logs; expected at least one file, folder or glob'),
  );
});
