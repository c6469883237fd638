import { execFile } from 'node:child_process';
import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { uniformRandom } from '../../src/statistics/random.ts';
import { type Call, upneck } from './call.ts';

const folder = mkdtempSync(join(tmpdir(), 'standard-'));
afterAll(() => rmSync(folder, { recursive: true }));

const head = 'instrument,model,string,fret,pass,cents\n';
const uniform = uniformRandom(4);

interface Plan {
  readonly models?: readonly string[];
  readonly strings?: readonly number[];
  readonly frets?: readonly number[];
  readonly passes?: readonly number[];
}

/** Rows of so many instruments that read about +1 at the 12th and +4 at the 17th. */
function rows(
  instruments: number,
  { models = ['A'], strings = [1, 2], frets = [12, 17], passes = [0] }: Plan = {},
): string {
  let text = '';
  for (let i = 0; i < instruments; i++)
    for (const string of strings)
      for (const pass of passes)
        for (const fret of frets) {
          const cents = (fret === 12 ? 1 : 4) + 2 * uniform() - 1;
          text += `I${i},${models[i % models.length]},${string},${fret},${pass},${cents.toFixed(1)}\n`;
        }
  return text;
}

const call = (...args: string[]): Promise<Call> => upneck(folder, 'standard', ...args);

const tooFew = 'expected at least 3, better 6 of a model: read the 12th and the 17th of more instruments';
const noRise = `Cannot fit a trend: no instrument has a string read at two frets on one pass, one of them above the 12th; ${tooFew}, and give both the same number in column "pass"`;

test.each([
  ['one reading', `${head}I1,A,1,12,0,1\n`, noRise],
  ['12ths alone', head + rows(6, { frets: [12] }), noRise],
  ['the 17th at another pass', head + rows(6, { frets: [12] }) + rows(6, { frets: [17], passes: [1] }), noRise],
  ['frets up to the 5th', head + rows(6, { frets: [1, 3, 5] }), noRise],
  [
    'two instruments in all',
    head + rows(2),
    `Cannot fit a trend: only 2 of 2 instruments have a string read at two frets on one pass, one of them above the 12th; ${tooFew}`,
  ],
  [
    'all readings equal',
    head + rows(6).replace(/[^,\n]+\n/g, '2\n'),
    'Cannot fit a trend: every string reads the same; expected readings that differ, check that the log holds measurements',
  ],
  ['a header alone', head, 'no reading is left: the logs have a header and no rows. Give logs with readings in them'],
])('standard refuses %s and writes nothing', async (name, text, message) => {
  const file = `${name.replaceAll(' ', '-')}.csv`;
  writeFileSync(join(folder, file), text);
  const { code, stdout, stderr } = await call(file, '--out', 'nothing');
  expect(stderr).toBe(`upneck standard: ${message}\n`);
  expect(code).toBe(1);
  expect(stdout).toBe('');
  expect(readdirSync(folder)).not.toContain('nothing');
});

test.each([
  [['--loss', 'bogus'], 'found --loss bogus; expected audible, squared or minimax'],
  [['--audible', 'loud'], /^found --audible .*expected a number of cents from 0 to 100/],
  [['--loss', 'squared', '--audible', '2'], /^found --audible .*with --loss squared/],
  [['--bogus'], /Unknown option '--bogus'/],
])('standard %j is a wrong call', async (args, message) => {
  writeFileSync(join(folder, 'few.csv'), head + rows(3));
  const { code, stderr } = await call('few.csv', ...args);
  const first = stderr.split('\n')[0]!.replace('upneck standard: ', '');
  if (typeof message === 'string') expect(first).toBe(message);
  else expect(first).toMatch(message);
  expect(stderr).toContain('"upneck standard --help" shows how to call it.');
  expect(code).toBe(2);
});

test('standard without a log is a wrong call', async () => {
  expect(await call()).toMatchObject({ code: 2, stdout: '' });
});

test('standard keeps an old standard whole when the logs will not do', async () => {
  writeFileSync(join(folder, 'good.csv'), head + rows(6, { passes: [0, 1] }));
  expect((await call('good.csv', '--out', 'kept')).code).toBe(0);
  const before = readdirSync(join(folder, 'kept')).map((name) => readFileSync(join(folder, 'kept', name), 'utf8'));
  writeFileSync(join(folder, 'bad.csv'), head + rows(2));
  expect((await call('bad.csv', '--out', 'kept')).code).toBe(1);
  expect(readdirSync(join(folder, 'kept')).map((name) => readFileSync(join(folder, 'kept', name), 'utf8'))).toEqual(
    before,
  );
});

test('standard draws up a model of one string, rows of fret 0 refused', async () => {
  writeFileSync(join(folder, 'one-string.csv'), `${head}${rows(8, { strings: [1], passes: [0, 1] })}I1,A,1,0,0,0\n`);
  const { code, stdout } = await call('one-string.csv', '--out', 'one');
  expect(code).toBe(0);
  expect(stdout).toContain('32 readings, 1 row refused');
  expect(readFileSync(join(folder, 'one', 'rejects.csv'), 'utf8')).toContain('one-string.csv,34,fret,0,fret-range');
  expect(stdout.split('\n').filter((line) => line.length > 80)).toEqual([]);
});

test('standard tells what changes since the one it replaces, even where it is written over', async () => {
  const first = head + rows(8, { strings: [1, 2, 3], passes: [0, 1] });
  writeFileSync(join(folder, 'since.csv'), first);
  await call('since.csv', '--out', 'since');
  const since = ['--since', 'since/house-standard.json', '--out', 'since'];
  const same = await call('since.csv', ...since);
  expect(same.stdout).toMatch(/^ +3 {2}as before {2}nothing changes for the bench$/m);
  // String 4 is new; the 17ths of string 1 now read 8 cents sharper.
  writeFileSync(
    join(folder, 'since.csv'),
    first.replace(/,1,17,(.),(.*)$/gm, (_, pass, cents) => `,1,17,${pass},${Number(cents) + 8}`) +
      rows(8, { strings: [4], passes: [0, 1] }),
  );
  const { code, stdout } = await call('since.csv', ...since);
  expect(code).toBe(0);
  expect(stdout).toMatch(/^ +1 {2}new +not in the earlier standard$/m);
  expect(stdout).toMatch(/^ +1 {2}reset +a saddle set by the earlier one now reads outside the window$/m);
  expect(stdout).toContain('beyond what the earlier standard held');
  expect(stdout.split('\n').filter((line) => line.length > 80)).toEqual([]);
  expect((await call('since.csv', '--since', 'since.csv')).stderr).toMatch(/since\.csv: not JSON/);
  expect((await call('since.csv', '--json', ...since)).code).toBe(2);
});

test('standard prints one JSON document on stdout and writes nothing unless asked', async () => {
  writeFileSync(join(folder, 'json.csv'), head + rows(8, { models: ['A', 'B'], strings: [1, 2, 3], passes: [0, 1] }));
  const before = readdirSync(folder);
  const { code, stdout } = await call('json.csv', '--json', '--loss', 'squared');
  expect(code).toBe(0);
  expect(readdirSync(folder)).toEqual(before);
  interface Entry {
    share: number;
    rise: number;
    nut: number;
    target12: number;
    target17: number;
  }
  const { entries, options } = JSON.parse(stdout) as { entries: Entry[]; options: object };
  expect(options).toMatchObject({ loss: 'squared' });
  expect(entries).toHaveLength(6);
  // The definition of the share: cents12 = -q t / kappa and cents17 = (1 - q) t.
  for (const { share, rise, nut, target12, target17 } of entries) {
    const t = rise + (1 - kappa) * nut;
    expect(target12).toBeCloseTo((-share * t) / kappa, 2);
    expect(target17).toBeCloseTo((1 - share) * t, 2);
  }
});

test('standard reads ten thousand repeats of one fret, and readings without any noise', async () => {
  const repeats = Array.from({ length: 10_000 }, () => `I0,A,1,12,0,${(1 + uniform()).toFixed(1)}\n`).join('');
  writeFileSync(join(folder, 'repeats.csv'), head + rows(4) + repeats);
  expect(await call('repeats.csv', '--json')).toMatchObject({ code: 0, stderr: '' });
  let exact = head;
  for (let i = 0; i < 8; i++)
    for (const string of [1, 2, 3])
      for (const fret of [1, 5, 12, 17, 20]) {
        const cents = 0.5 + ((2 + string) * Math.max(0, fret - 12)) / 5 + (i - 3) * (2 ** (fret / 12) - 1);
        exact += `I${i},${i % 2 ? 'A' : 'B'},${string},${fret},0,${cents.toFixed(6)}\n`;
      }
  writeFileSync(join(folder, 'exact.csv'), exact);
  const { code, stdout } = await call('exact.csv', '--json');
  expect(code).toBe(0);
  const { entries } = JSON.parse(stdout) as { entries: { string: number; rise: number }[] };
  for (const { string, rise } of entries) expect(rise).toBeCloseTo(2 + string, 2);
});

/** Calls the command in a process of its own, from a folder of its own that holds `files`. */
function spawned(
  files: Readonly<Record<string, string>>,
  ...args: string[]
): Promise<Call & { cwd: string; files: string[] }> {
  const cwd = mkdtempSync(join(folder, 'spawned-'));
  for (const [name, text] of Object.entries(files)) {
    mkdirSync(resolve(cwd, name, '..'), { recursive: true });
    writeFileSync(join(cwd, name), text);
  }
  return new Promise((done) => {
    execFile(
      process.execPath,
      [resolve('src/clients/upneck.mjs'), 'standard', ...args],
      { cwd },
      (error, stdout, stderr) => {
        const made = readdirSync(cwd, { recursive: true, encoding: 'utf8' }).filter((name) => !(name in files));
        const code = error === null ? 0 : Number(error.code);
        done({ code, stdout, stderr: stderr.replaceAll(cwd, 'CWD'), cwd, files: made.sort() });
      },
    );
  });
}

const log = head + rows(6, { models: ['A', 'B'] });
const modelsHead = 'model,scale_mm,strings,frets,saddles\n';
const help = '"upneck standard --help" shows how to call it.\n';

test.each<[string, Readonly<Record<string, string>>, string[], number, string]>([
  [
    'a missing log',
    {},
    ['shop.csv'],
    1,
    'shop.csv: there is no such file or folder. Check the spelling, or give a folder or a glob\n',
  ],
  [
    'a log and its copy',
    { 'shop.csv': log, 'copy.csv': log },
    ['shop.csv', 'copy.csv'],
    1,
    'copy.csv: the same file as shop.csv, byte for byte; its readings would count twice. Give one of them\n',
  ],
  [
    'a log whose every row is refused',
    { 'shop.csv': `${head}A1,A,1,0,0,1\nA1,A,1,0,0,2\n` },
    ['shop.csv'],
    1,
    'no reading is left: all 2 rows were refused, the first one for\n  shop.csv:2, column "fret": found "0", expected a fret of this model from 1 to at most 36; fret 0 is the open string\n"upneck import" tells of all of them\n',
  ],
  [
    'frequencies without the open string',
    { 'shop.csv': 'instrument,model,string,fret,hz\nA1,A,1,12,660\n' },
    ['shop.csv'],
    1,
    'no reading is left: the only row was refused\n  shop.csv:2, column "hz": found "660", expected the open string in open_hz, or the tuning of this model in models.csv\n"upneck import" tells of all of them\n',
  ],
  [
    'an --out that is a file',
    { 'shop.csv': log, taken: '' },
    ['shop.csv', '--out', 'taken'],
    2,
    `found --out taken, where CWD/taken is a file; expected a folder\n${help}`,
  ],
  [
    'an --out below a file',
    { 'shop.csv': log, taken: '' },
    ['shop.csv', '--out', 'taken/below'],
    2,
    `found --out taken/below, where CWD/taken is a file; expected a folder\n${help}`,
  ],
  [
    'an --out where a folder has the name of a file',
    { 'shop.csv': log, 'o/bench-card.html/x': '' },
    ['shop.csv', '--out', 'o'],
    2,
    `found a folder o/bench-card.html where a file is to be written; expected another --out\n${help}`,
  ],
  [
    'an --out without a name',
    { 'shop.csv': log },
    ['shop.csv', '--out', ''],
    2,
    `found --out without a folder; expected the name of one\n${help}`,
  ],
  [
    'a log that would be written over',
    { 'rejects.csv': log },
    ['rejects.csv', '--out', '.'],
    2,
    `rejects.csv is one of the files read and would be written over; expected another --out\n${help}`,
  ],
  [
    'a missing usage profile',
    { 'shop.csv': log },
    ['shop.csv', '--usage', 'use.csv'],
    1,
    'use.csv: there is no such file; expected a CSV file with string, fret, count or a MusicXML score\n',
  ],
  [
    'a usage profile beyond the neck',
    { 'shop.csv': log, 'use.csv': 'string,fret,count\n1,30,5\n' },
    ['shop.csv', '--usage', 'use.csv'],
    1,
    'use.csv: found no count at frets 1 to 21, all that A has; expected counts at some of these. Give another profile, or mend the frets of the model in models.csv\n',
  ],
  [
    'a models file with errors',
    { 'shop.csv': log, 'models.csv': `${modelsHead}A,long,2,22,1|2\n` },
    ['shop.csv'],
    1,
    'models.csv: the models file has errors:\n  models.csv:2, column "scale_mm": found "long", expected a number above 0\n. Mend them and read again\n',
  ],
  [
    '17ths beyond the frets of the models',
    { 'shop.csv': log, 'models.csv': `${modelsHead}A,648,2,12,1|2\nB,648,2,12,1|2\n` },
    ['shop.csv'],
    1,
    `${noRise}\n`,
  ],
])('the command refuses %s in its own words and makes no file', async (_name, files, args, code, message) => {
  const called = await spawned(files, ...args);
  expect(called.stderr).toBe(`upneck standard: ${message}`);
  const given = Object.keys(files).flatMap((name) =>
    name.split('/').map((_, at, parts) => parts.slice(0, at + 1).join('/')),
  );
  expect({ ...called, cwd: '', stderr: '', files: called.files.filter((name) => !given.includes(name)) }).toEqual({
    code,
    stdout: '',
    stderr: '',
    cwd: '',
    files: [],
  });
});

const written = ['out', 'out/bench-card.html', 'out/house-standard.csv', 'out/house-standard.json'];

test('the command keeps names from breaking its table, its page and its spreadsheet', async () => {
  const names = [
    '<img src=x onerror=alert(1)>',
    'He said "hi", twice',
    'two\nlines',
    '=1+2',
    '\u202eturned',
    'L'.repeat(300),
    '__proto__',
  ];
  const quoted = names.map((name) => `"${name.replaceAll('"', '""')}"`);
  const { code, stdout, cwd, files } = await spawned({ 'shop.csv': head + rows(21, { models: quoted }) }, 'shop.csv');
  expect([code, files]).toEqual([0, written]);
  expect(stdout.split('\n').filter((line) => line.length > 80)).toEqual([]);
  expect(stdout).not.toMatch(/[^\P{C}\n]/u);
  const out = join(cwd, 'out');
  const card = readFileSync(join(out, 'bench-card.html'), 'utf8');
  expect(card).not.toContain('<img');
  expect(card).toContain('&lt;img src=x onerror=alert(1)&gt;');
  expect(readFileSync(join(out, 'house-standard.csv'), 'utf8')).not.toMatch(/^[=+@]/m);
  const { entries } = JSON.parse(readFileSync(join(out, 'house-standard.json'), 'utf8')) as {
    entries: { model: string }[];
  };
  expect([...new Set(entries.map(({ model }) => model))]).toEqual(names);
});

test.each<[string, string, string]>([
  [
    'one instrument under two models',
    `${log}I0,B,1,15,0,2\n`,
    'an instrument under a second model (1), where it counts under the one that most of its readings name.',
  ],
  ['rows that stand twice', log + log.slice(head.length), 'read twice alike (24), and counted twice.'],
  ['readings far off', log.replace(/(I0,A,1,12,0,).*/, '$1599'), 'more than 50 cents off (1).'],
])('the command says that it kept %s', async (_name, text, words) => {
  const { code, stdout } = await spawned({ 'shop.csv': text }, 'shop.csv');
  expect(code).toBe(0);
  expect(stdout.replace(/\n +/g, ' ')).toContain(`Rows that look wrong and were kept: ${words}`);
});

test.each<[string, string]>([
  ['forty models with one instrument each', rows(40, { models: Array.from({ length: 40 }, (_, at) => `M${at}`) })],
  ['three instruments of one string', rows(3, { strings: [1] })],
  ['an instrument with 500 passes', rows(6) + rows(1, { passes: Array.from({ length: 500 }, (_, at) => at + 1) })],
  ['every third reading 599 cents off', rows(9).replace(/(([^\n]*\n){2}[^\n]*,)[^\n]*\n/g, '$1599\n')],
])('the command makes a standard of finite figures from %s', async (_name, text) => {
  const { code, stdout } = await spawned({ 'shop.csv': head + text }, 'shop.csv', '--json', '--loss', 'squared');
  expect(code).toBe(0);
  const { entries } = JSON.parse(stdout) as { entries: Record<string, unknown>[] };
  expect(entries.length).toBeGreaterThan(0);
  for (const entry of entries) for (const [key, value] of Object.entries(entry)) expect(value, key).not.toBeNull();
});

test('the command passes over what it wrote when it reads the same folder again', async () => {
  const refused = `${log}I0,A,1,0,0,1\n`;
  const outputs = {
    'out/house-standard.json': '{}',
    'out/house-standard.csv': 'model\nA\n',
    'out/rejects.csv': 'file\n',
  };
  const { code, stdout } = await spawned({ 'shop.csv': refused, ...outputs }, '.');
  expect(code).toBe(0);
  expect(stdout).toContain('24 readings, 1 row refused.');
});
