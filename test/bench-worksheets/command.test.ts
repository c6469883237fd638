import { createHash } from 'node:crypto';
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { parseHTML } from 'linkedom';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { standardJson } from '../../src/policy/standard-json.ts';
import { type Call, upneck } from '../clients/call.ts';
import { hostileNames } from '../policy/small-shop.ts';
import { standardOf } from './bench-standard.ts';

const kappa = 2 ** (17 / 12) - 1;
const folder = mkdtempSync(join(tmpdir(), 'worksheet-'));
afterAll(() => rmSync(folder, { recursive: true }));

const rises = [3, 2, 4, 3];
const standard = standardOf(
  [...hostileNames, 'Larch'].map((model) => ({ model, rises, share: 0, saddles: [[1, 2], [3], [4]] })),
);
const head = 'instrument,model,string,fret,pass,cents\n';

/** Rows of one instrument with its 12ths as given. */
function rows(instrument: string, twelfths: readonly number[], { model = 'Larch', pass = 0 } = {}): string {
  return twelfths
    .flatMap((cents, at) =>
      [
        [12, cents],
        [17, rises[at % 4]! + kappa * cents],
      ].map(([fret, value]) => `${instrument},${model},${at + 1},${fret},${pass},${value!.toFixed(1)}\n`),
    )
    .join('');
}

beforeAll(() => {
  writeFileSync(join(folder, 'standard.json'), standardJson(standard));
  writeFileSync(join(folder, 'one.csv'), head + rows('J1', [5, 3, 0, -6]));
  writeFileSync(
    join(folder, 'more.csv'),
    head +
      rows('J1', [5, 3, 0, -6]) +
      rows('J 2', [0, 0, 0, 0]) +
      rows('J/2', [9], { model: hostileNames[0] }) +
      'J3,Larch,1,12,0,sharp\n',
  );
});

const call = (...args: string[]): Promise<Call> => upneck(folder, 'worksheet', ...args);

test('worksheet prints one instrument and writes its page', async () => {
  const { code, stdout, stderr } = await call('one.csv', '--standard', 'standard.json', '--out', 'a');
  expect([code, stderr]).toEqual([0, `Wrote ${join('a', 'worksheet-J1.html')}\n`]);
  expect(stdout).toMatch(/^J1, Larch, pass 0\n/);
  expect(readdirSync(join(folder, 'a')).sort()).toEqual(['worksheet-J1.html', 'worksheets.json']);
});

test('worksheet makes a file for each instrument, and a table of contents', async () => {
  const { code, stdout } = await call('more.csv', '--standard', 'standard.json', '--out', 'b');
  expect(code).toBe(0);
  expect(readdirSync(join(folder, 'b')).sort()).toEqual([
    'rejects.csv',
    'worksheet-J-2-2.html',
    'worksheet-J-2.html',
    'worksheet-J1.html',
    'worksheets.json',
  ]);
  const lines = stdout.split('\n').slice(2, 5);
  expect(lines.map((line) => line.trim().split(/ {2,}/))).toEqual([
    ['J1', 'Larch', '0', 'move 2 of 3', 'worksheet-J1.html'],
    ['J 2', 'Larch', '0', 'leave all', 'worksheet-J-2.html'],
    ['J/2', expect.stringContaining('<img'), '0', 'move 1 of 1', 'worksheet-J-2-2.html'],
  ]);
});

test('worksheet --instrument picks one, and lists those there are when it is not among them', async () => {
  const picked = await call('more.csv', '--standard', 'standard.json', '--instrument', 'J 2', '--json');
  expect(JSON.parse(picked.stdout)).toMatchObject({ worksheets: [{ instrument: 'J 2' }] });
  const { code, stderr } = await call('more.csv', '--standard', 'standard.json', '--instrument', 'J9');
  expect(code).toBe(2);
  expect(stderr).toContain('the log has no instrument "J9"; expected one of J1, J 2, J/2\n');
});

test('worksheets.json is valid by its JSON Schema, which refuses what it does not know', async () => {
  const schema = JSON.parse(readFileSync('shared/worksheets.schema.json', 'utf8')) as object;
  const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
  ajv.addFormat('date-time', (text: string) => !Number.isNaN(Date.parse(text)));
  const validate = ajv.compile(schema);
  writeFileSync(
    join(folder, 'passes.csv'),
    `${head}${rows('J1', [5, 3, 0, -6])}${rows('J1', [1, 0, 4, -3], { pass: 1 })}${rows('J1', [1], { pass: 2 }).replace(/.*,17,.*\n/, '')}J1,Larch,9,12,2,1\nJ4,Yew,1,5,0,1\n`,
  );
  for (const log of ['one.csv', 'more.csv', 'passes.csv']) {
    const { stdout } = await call(log, '--standard', 'standard.json', '--json');
    const document = JSON.parse(stdout) as { worksheets: Record<string, unknown>[] };
    validate(document);
    expect(validate.errors ?? []).toEqual([]);
    expect(validate({ ...document, worksheets: [] })).toBe(false);
    expect(validate({ ...document, worksheets: [{ ...document.worksheets[0], colour: 'red' }] })).toBe(false);
    expect(validate({ ...document, worksheets: [{ ...document.worksheets[0], pass: -1 }] })).toBe(false);
  }
});

test('worksheet --json writes nothing unless --out is given', async () => {
  const before = readdirSync(folder);
  const { code, stderr } = await call('one.csv', '--standard', 'standard.json', '--json');
  expect([code, stderr]).toEqual([0, '']);
  expect(readdirSync(folder)).toEqual(before);
});

test('the page keeps names text, shows each string with its move, and carries the cautions', async () => {
  await call('more.csv', '--standard', 'standard.json', '--out', 'c');
  const page = parseHTML(readFileSync(join(folder, 'c', 'worksheet-J-2-2.html'), 'utf8')).document;
  expect(page.querySelector('h1')!.textContent).toBe('J/2');
  expect(page.querySelectorAll('img, script, [onerror]')).toHaveLength(0);
  expect(page.body.textContent).toContain(hostileNames[0]);
  const whole = parseHTML(readFileSync(join(folder, 'c', 'worksheet-J1.html'), 'utf8')).document;
  const cells = [...whole.querySelectorAll('td.move')].map((cell) => cell.textContent);
  expect(cells).toHaveLength(3);
  expect(cells[0]).toMatch(/^back \d\.\d\d mm · .*turnsaway from the neck$/);
  expect(cells[1]).toBe('leave it');
  expect(cells[2]).toMatch(/^forward 2\.\d\d mm · .*toward the neck$/);
  expect([...whole.querySelectorAll('tbody th')].map((cell) => cell.textContent)).toEqual(['1', '2', '3', '4']);
  for (const caution of [/Slacken the string/, /protect your eyes/, /maker's instructions and your local rules/])
    expect(whole.body.textContent).toMatch(caution);
});

test('worksheet says when the usage profile is not the one of the standard, where a saddle is shared', async () => {
  const { stdout } = await call('one.csv', '--standard', 'standard.json', '--json');
  const { worksheets } = JSON.parse(stdout) as { worksheets: { notes: string[] }[] };
  expect(worksheets[0]!.notes).toContain(
    'Saddles under several strings are set by the usage profile usage/whole-neck.csv; the standard was drawn up with even: give that one with --usage.',
  );
});

test('worksheet takes the profile that the standard was drawn up with, where it is one of ours', async () => {
  const bytes = readFileSync('shared/usage/bass.csv');
  const drawn = {
    ...standard,
    options: { ...standard.options, usage: 'usage/bass.csv' },
    inputs: [{ path: 'usage/bass.csv', sha256: createHash('sha256').update(bytes).digest('hex') }],
  };
  writeFileSync(join(folder, 'bass.json'), standardJson(drawn));
  const notes = async (...args: string[]): Promise<string[]> => {
    const { stdout } = await call('one.csv', '--standard', 'bass.json', '--json', ...args);
    return (JSON.parse(stdout) as { worksheets: { notes: string[] }[] }).worksheets[0]!.notes;
  };
  expect((await notes()).filter((note) => note.includes('usage profile'))).toEqual([]);
  expect((await notes('--usage', 'bass')).filter((note) => note.includes('usage profile'))).toEqual([]);
  expect((await notes('--usage', 'lead')).filter((note) => note.includes('usage profile'))).toHaveLength(1);
});

test.each<[string, string, string[], number, string]>([
  ['no log', '', [], 2, 'found no log; expected at least one file, folder or glob'],
  [
    'no standard',
    head,
    ['log.csv'],
    2,
    'found no --standard; expected the house-standard.json that "upneck standard" writes',
  ],
  [
    'a standard that is not there',
    head,
    ['log.csv', '--standard', 'none.json'],
    1,
    'none.json: there is no such file; expected a text file',
  ],
  ['a standard that is a log', head, ['log.csv', '--standard', 'one.csv'], 1, 'one.csv: not JSON'],
  [
    'a header alone',
    head,
    ['log.csv', '--standard', 'standard.json'],
    1,
    'no reading is left: the logs have a header and no rows. Give logs with readings in them',
  ],
  [
    'rejects alone',
    `${head}J1,Larch,1,12,0,sharp\nJ1,Larch,1,17,0,flat\n`,
    ['log.csv', '--standard', 'standard.json'],
    1,
    'no reading is left: all 2 rows were refused, the first one for\n  log.csv:2, column "cents": found "sharp"',
  ],
  [
    'a folder that is a file',
    head,
    ['log.csv', '--standard', 'standard.json', '--out', 'one.csv'],
    2,
    `found --out one.csv, where ${join(folder, 'one.csv')} is a file; expected a folder`,
  ],
])('worksheet refuses %s and writes nothing', async (_, log, args, code, message) => {
  writeFileSync(join(folder, 'log.csv'), log);
  const result = await call(...args);
  expect(result.stderr).toContain(`upneck worksheet: ${message}`);
  expect([result.code, result.stdout]).toEqual([code, '']);
  expect(existsSync(join(folder, 'out'))).toBe(false);
});

test('worksheet refuses a standard of another version, and one with a broken field', async () => {
  const file = JSON.parse(standardJson(standard)) as { version: number; entries: { share: number }[] };
  writeFileSync(join(folder, 'two.json'), JSON.stringify({ ...file, version: 2 }));
  expect((await call('one.csv', '--standard', 'two.json')).stderr).toContain(
    'two.json: version: found 2, expected version 1. Draw the standard up again with this program',
  );
  file.entries[5]!.share = 7;
  writeFileSync(join(folder, 'broken.json'), JSON.stringify(file));
  expect((await call('one.csv', '--standard', 'broken.json')).stderr).toContain(
    'broken.json: entries[5].share: found 7, expected a number from 0 to 1.',
  );
});

test('worksheet does not write over a file it has read', async () => {
  mkdirSync(join(folder, 'd'));
  writeFileSync(join(folder, 'd', 'worksheets.json'), standardJson(standard));
  const { code, stderr } = await call('one.csv', '--standard', 'd/worksheets.json', '--out', 'd');
  expect(code).toBe(2);
  expect(stderr).toContain('d/worksheets.json is one of the files read and would be written over');
  expect(readFileSync(join(folder, 'd', 'worksheets.json'), 'utf8')).toBe(standardJson(standard));
});
