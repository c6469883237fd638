import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync, mkdirSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { type Call, upneck } from './call.ts';

let cwd = '';

beforeAll(() => {
  cwd = mkdtempSync(join(tmpdir(), 'import-'));
  mkdirSync(join(cwd, 'logs'));
  const header = 'instrument,model,string,fret,cents,note';
  const good = ['I-1,Heron,1,12,1.5,', 'I-1,Heron,1,17,2.5,'];
  write('good.csv', header, ...good);
  write('logs/one.csv', header, ...good, 'I-1,Heron,1,12,=2+3,');
  write('logs/two.tsv', 'instrument\tmodel\tstring\tf12\tf17', 'I-2\tHeron\t2\t0.5\t1', 'I-2\tHeron\t9\t0.5\t');
  write('logs/models.csv', 'model,scale_mm,strings,frets,saddles', 'Heron,648,6,22,12|34|56');
  write('empty.csv');
  write('header-only.csv', header);
  write('all-bad.csv', header, 'I-1,Heron,1,0,1.5,');
  write('no-fret.csv', 'instrument,model,string,cents', 'I-1,Heron,1,1.5');
  writeFileSync(join(cwd, 'picture.csv'), Buffer.from('89504e470d0a1a0a0000000d', 'hex'));
  mkdirSync(join(cwd, 'bare'));
  write('inches.csv', 'Gtr;Str;Fret;Err;Saddle;Make', 'I-1;1;12;1,5;0,1;Heron');
  write(
    'mapping.json',
    JSON.stringify({
      columns: {
        gtr: 'instrument',
        Str: 'string',
        ERR: 'cents',
        Make: 'model',
        Saddle: { column: 'saddle_mm', unit: 'in' },
      },
    }),
  );
  write('bad-models.csv', 'model,scale_mm,strings,frets,saddles', 'Heron,648,6,22,12|34', ',long,6,22,123456');
});

afterAll(() => {
  rmSync(cwd, { recursive: true });
});

function write(name: string, ...lines: string[]): void {
  writeFileSync(join(cwd, name), lines.map((line) => `${line}\n`).join(''));
}

const call = (...args: string[]): Promise<Call> => upneck(cwd, 'import', ...args);

test('upneck import says when everything is fine', async () => {
  const { code, stdout: out, stderr: err } = await call('good.csv', '--models', 'logs/models.csv');
  expect([code, err]).toEqual([0, '']);
  expect(out).toBe(`File          rows  readings  rejects
-------------------------------------
good.csv         2         2        0

Every row was read, and nothing looks wrong.
`);
});

test('upneck import of a folder counts by file, in all and explains rejects, in 80 columns', async () => {
  const { code, stdout: out } = await call('logs');
  expect(code).toBe(0);
  expect(out).toContain('logs/one.csv     3         2        1');
  expect(out).toContain('logs/two.tsv     3         2        1');
  expect(out).toContain('2 files          6         4        2');
  expect(out.replace(/\s+/g, ' ')).toContain(
    'logs/two.tsv:3, column "string": found "9", expected a string of this model; string 1 is the thinnest',
  );
  expect(out.split('\n').filter((line) => line.length > 80)).toEqual([]);
});

test('upneck import --json prints one document with every reject and finding', async () => {
  const { code, stdout: out } = await call('logs/*.csv', 'logs/two.tsv', '--json');
  expect(code).toBe(0);
  expect(JSON.parse(out)).toEqual({
    files: [
      { path: 'logs/one.csv', rows: 3, readings: 2, rejects: 1 },
      { path: 'logs/two.tsv', rows: 3, readings: 2, rejects: 1 },
    ],
    totals: { rows: 6, readings: 4, rejects: 2 },
    rejects: [
      {
        file: 'logs/one.csv',
        line: 4,
        column: 'cents',
        found: '=2+3',
        rule: 'not-a-number',
        expected: 'a number such as 1.5 or -2',
        text: 'I-1,Heron,1,12,=2+3,',
      },
      {
        file: 'logs/two.tsv',
        line: 3,
        column: 'string',
        found: '9',
        rule: 'string-range',
        expected: 'a string of this model; string 1 is the thinnest',
        text: 'I-2\tHeron\t9\t0.5\t',
      },
    ],
    findings: [],
  });
});

test('upneck import --rejects writes a CSV in which no cell runs as a formula, and nothing beside it', async () => {
  const { code, stderr: err } = await call('logs', '--rejects', 'out/rejects.csv');
  expect([code, err]).toEqual([0, 'Wrote 2 refused rows to out/rejects.csv\n']);
  const [header, first]: string[][] = parse(readFileSync(join(cwd, 'out/rejects.csv')));
  expect(header).toEqual(['file', 'line', 'column', 'found', 'rule', 'expected', 'text']);
  expect(first).toEqual([
    'logs/one.csv',
    '4',
    'cents',
    "'=2+3",
    'not-a-number',
    'a number such as 1.5 or -2',
    'I-1,Heron,1,12,=2+3,',
  ]);
  expect(readdirSync(join(cwd, 'out'))).toEqual(['rejects.csv']);
});

test('upneck import reads foreign headers and units through a mapping file', async () => {
  const { code, stdout: out } = await call('inches.csv', '--mapping', 'mapping.json', '--json');
  expect(code).toBe(0);
  expect((JSON.parse(out) as { totals: unknown }).totals).toEqual({ rows: 1, readings: 1, rejects: 0 });
});

test.each([
  [['empty.csv'], 1, 'upneck import: empty.csv: the file is empty. '],
  [['header-only.csv'], 1, 'upneck import: no reading is left: the logs have a header and no rows. '],
  [['all-bad.csv'], 1, 'upneck import: no reading is left: the only row could not be read. '],
  [['no-fret.csv'], 1, 'upneck import: no-fret.csv: no column fret; found "instrument", "model", "string", "cents". '],
  [['picture.csv'], 1, 'upneck import: picture.csv: not a log but a picture. '],
  [['bare'], 1, 'upneck import: bare: the folder holds no log (.csv, .tsv or .txt, models.csv aside). '],
  [['missing.csv'], 1, 'upneck import: missing.csv: there is no such file or folder. '],
  [['none/*.csv'], 1, 'upneck import: none/*.csv: no file matches. '],
  [['good.csv', '--models', 'none.csv'], 1, 'upneck import: none.csv: there is no such file. '],
  [['good.csv', '--mapping', 'good.csv'], 1, 'upneck import: good.csv: the mapping is not JSON ('],
  [['good.csv', '--rejects', 'good.csv'], 2, 'upneck import: --rejects good.csv is one of the files read; '],
  [[], 2, 'upneck import: found no log; expected at least one file, folder or glob\n'],
  [['good.csv', '--nonsense'], 2, "upneck import: Unknown option '--nonsense'"],
] as [string[], number, string][])('upneck import %j fails with %i and says why', async (args, expected, message) => {
  const { code, stdout: out, stderr: err } = await call(...args);
  expect(err.slice(0, message.length)).toBe(message);
  expect(code).toBe(expected);
  if (expected === 2) expect(out).toBe('');
});

test('upneck import names every cell of a models file that is wrong', async () => {
  const { code, stderr: err } = await call('good.csv', '--models', 'bad-models.csv');
  expect(code).toBe(1);
  expect(err).toContain('bad-models.csv:2, column "saddles": found "12|34", expected each string once, such as');
  expect(err).toContain('bad-models.csv:3, column "model": found "", expected a name');
  expect(err).toContain('bad-models.csv:3, column "scale_mm": found "long", expected a number above 0');
});
