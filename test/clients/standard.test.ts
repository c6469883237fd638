import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { main } from '../../src/clients/cli.ts';
import { uniformRandom } from '../../src/statistics/random.ts';

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

interface Call {
  readonly code: number;
  readonly stdout: string;
  readonly stderr: string;
}

async function call(...args: string[]): Promise<Call> {
  let [stdout, stderr] = ['', ''];
  const code = await main(['standard', ...args], {
    stdout: (text) => (stdout += text),
    stderr: (text) => (stderr += text),
    columns: 80,
    isTerminal: false,
    cwd: folder,
    signal: new AbortController().signal,
  });
  return { code, stdout, stderr };
}

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
