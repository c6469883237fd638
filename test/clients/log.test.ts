import { existsSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { run, usage } from '../../src/clients/commands/log.ts';
import { standardJson } from '../../src/policy/standard-json.ts';
import { standardOf } from '../bench-worksheets/bench-standard.ts';
import { upneck } from './call.ts';

let folder = '';
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'log-'));
  const models = ['Larch 6,648,6,22,1|2|3|4|5|6,0.7,14,E4|B3|G3|D3|A2|E2', 'Kettle 4,632,4,20,1234,0.8,10,'];
  writeFileSync(
    join(folder, 'models.csv'),
    `model,scale_mm,strings,frets,saddles,mm_per_turn,travel_mm,tuning\n${models.join('\n')}\n`,
  );
  const standard = standardOf([
    { model: 'Larch 6', rises: [3, 3, 3, 3, 3, 3], share: 0 },
    { model: 'Kettle 4', rises: [3, 3, 3, 3], share: 0, scaleMm: 632, saddles: [[1, 2, 3, 4]] },
  ]);
  writeFileSync(join(folder, 'standard.json'), standardJson(standard));
});
afterEach(() => {
  rmSync(folder, { recursive: true });
});

interface Screen {
  readonly code: number;
  /** All that was shown, what was typed echoed after its prompt. */
  readonly text: string;
  /** What was shown in answer to each line, without the prompt that follows. */
  readonly answers: readonly string[];
  readonly stderr: string;
}

/** A session at a fake terminal in the folder, whose clock goes on by a minute with each line. */
async function type(options: readonly string[], ...typed: string[]): Promise<Screen> {
  const shown: string[] = [''];
  const errors: string[] = [];
  let minute = 0;
  const lines = async function* (): AsyncGenerator<string> {
    for (const line of typed) {
      minute++;
      shown.push('');
      yield await Promise.resolve(line);
    }
  };
  const io = {
    stdout: (text: string) => void (shown[shown.length - 1] += text),
    stderr: (text: string) => void errors.push(text),
    columns: 80,
    isTerminal: false,
    cwd: folder,
    signal: new AbortController().signal,
  };
  const code = await run(['bench.csv', ...options], io, {
    typed: () => ({ lines: lines(), isTerminal: false }),
    now: () => new Date(Date.UTC(2026, 10, 25, 14, minute)),
  });
  const text = shown.join('');
  // Everything that is ever shown fits a terminal of 80 columns.
  const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' });
  expect(text.split('\n').filter((line) => [...graphemes.segment(line)].length > 80)).toEqual([]);
  // A piece is the typed line, the answer, and the next prompt.
  const answers = shown.slice(1).map((piece) => unwrapped(piece.split('\n').slice(1, -1).join('\n')));
  return { code, text, answers, stderr: errors.join('') };
}

/** Sentences as they were before they were broken at 80 columns. */
function unwrapped(text: string): string {
  return text.replaceAll('\n    ', ' ');
}

const larch = ['--instrument', 'J1', '--model', 'Larch 6'];
const rows = (name = 'bench.csv'): Record<string, string>[] =>
  parse(readFileSync(join(folder, name)), { columns: true, bom: true });
const read = (): string[] => rows().map(({ string, fret, pass, cents }) => `${pass}: ${string}/${fret} ${cents}`);

test('upneck log --help fits 80 columns', () => {
  expect(Math.max(...usage.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
});

test('log saves each reading in a row of its own, with time, pass and technician', async () => {
  const { code, text, stderr } = await type(
    [...larch, '--technician', 'ann'],
    '+1,5',
    '+4.0 dull',
    '2 12 -2',
    'help',
    'end',
  );
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  const same = { instrument: 'J1', model: 'Larch 6', pass: '0', technician: 'ann', open_cents: '', saddle_mm: '' };
  expect(rows()).toEqual([
    { ...same, string: '1', fret: '12', cents: '1.5', measured_at: '2026-11-25T14:01:00Z', note: '' },
    { ...same, string: '1', fret: '17', cents: '4.0', measured_at: '2026-11-25T14:02:00Z', note: 'dull' },
    { ...same, string: '2', fret: '12', cents: '-2', measured_at: '2026-11-25T14:03:00Z', note: '' },
  ]);
  expect(text.split('\n')[2]).toBe('J1, Larch 6 (6 strings), pass 0');
  expect(text).toContain('\nstring 1, fret 17> +4.0 dull\n  string 1, fret 17: +4.0 cents, saved\n');
  expect(text.trimEnd().split('\n').at(-1)).toBe('  3 readings saved in this session; bench.csv holds 3.');
});

test('log asks for instrument and model where the call names none', async () => {
  const { answers } = await type(
    [],
    'J7',
    'Larch',
    'larch 6',
    '+1.5',
    'next instrument',
    'j7',
    'J8',
    '',
    '3 12 -1',
    'end',
  );
  expect(answers.slice(0, 3)).toEqual([
    '  J7 is new to the log. Which model is it?',
    '  Larch is not known; known are Larch 6, Kettle 4. Type yes if it is right, else the model again.',
    'J7, Larch 6 (6 strings), pass 0',
  ]);
  expect(answers[5]).toBe('  The log has J7. Type yes if j7 is another instrument, else the name again.');
  expect(rows().map(({ instrument, model }) => [instrument, model])).toEqual([
    ['J7', 'Larch 6'],
    ['J8', 'Larch 6'],
  ]);
});

test('log takes "quit" for end and not for an instrument, and no header-only file for a log with readings', async () => {
  const { text } = await type([], 'quit');
  expect(text).toContain('0 readings saved in this session; bench.csv holds 0.');
  writeFileSync(
    join(folder, 'bench.csv'),
    'instrument,model,string,fret,pass,cents,measured_at\nJ1,Larch 6,1,12,0,sharp,\n',
  );
  const refused = await type([], 'end');
  expect(refused.text).toContain('\n  1 of its rows is refused; "upneck import" says why.\ninstrument> ');
});

describe('log does not save', () => {
  test.each([
    ['7 12 1', '  Not saved: found string 7, expected 1 to 6 (Larch 6 has 6 strings; 1 is the thinnest).'],
    ['1 23 1', '  Not saved: found fret 23, expected 1 to 22.'],
    ['1 0 1', '  Not saved: found fret 0, expected 1 to 22; for the open string type "open" and what it reads.'],
    ['2', '  Not saved: found "2" alone. For cents at fret 12 type +2 or -2; else fret and cents, as in "12 2".'],
    [
      '3 12',
      '  Not saved: found "3 12": are the cents missing? For string 3, fret 12 type them after it; for 12 cents at fret 3 type "3 +12".',
    ],
    [
      '12 +601',
      '  Not saved: found 601, expected at most 600 cents either way; this cannot be this string at this fret.',
    ],
    ['flat', '  Found "flat", expected a reading such as "3 12 +1.5", or a word that "help" lists.'],
    ['open 99', '  Found "99" after "open", expected what the open string reads in cents, -50 to 50.'],
  ])('%j, and says what it expected', async (line, message) => {
    const { code, answers, stderr } = await type(larch, line, 'end');
    expect(answers[0]).toBe(message);
    expect(existsSync(join(folder, 'bench.csv'))).toBe(false);
    expect({ code, stderr }).toEqual({
      code: 1,
      stderr: 'upneck log: 1 of the lines was not saved; see above\n',
    });
  });

  test('more than 50 cents before it is asked again', async () => {
    const { answers } = await type(larch, '+63', '+6.3', '17 -51', 'yes', '2 12 70', '2 12 70', '2 17 80', 'no', 'end');
    expect(answers[0]).toBe(
      '  +63.0 cents at string 1, fret 12: over 50 it is rarely the instrument. Not saved yet: type yes to save it, or the right reading.',
    );
    expect(answers[7]).toBe('  Then not.');
    expect(read()).toEqual(['0: 1/12 6.3', '0: 1/17 -51', '0: 2/12 70']);
  });

  test('a reading typed where a name is asked for', async () => {
    const { answers, code } = await type([], '3 12 +1.5', '10 4');
    expect(answers.map((each) => each.split('\n')[0])).toEqual(
      Array.from({ length: 2 }, () => '  Not saved: a name is asked for first.'),
    );
    expect(code).toBe(1);
  });
});

test('log tells a repeat, and takes both', async () => {
  const { answers } = await type(larch, '1 12 +1.5', '1 12 +1.7', 'end');
  expect(answers[1]).toBe('  string 1, fret 12: +1.7 cents, saved; a repeat, before +1.5, mean +1.6');
  expect(read()).toEqual(['0: 1/12 1.5', '0: 1/12 1.7']);
});

test('log tells without a standard what no saddle move changes', async () => {
  // t = 5 - kappa * 1.5 = 2.495 with kappa = 2^(17/12) - 1 = 1.66968; with the 17th exact the 12th is at -t / kappa = -1.494.
  const { answers } = await type(larch, '+1.5', '+5', 'end');
  expect(answers[1]).toBe(
    '  string 1, fret 17: +5.0 cents, saved\n  t = +2.5 cents, which no saddle move changes: with the 12th exact the 17th reads +2.5, with the 17th exact the 12th reads -1.5.',
  );
});

/** Error in cents at a fret of a string with its saddle `c` mm back, by geometry alone. */
function geometry(fret: number, c: number, scale = 648): number {
  return 1200 * Math.log2((scale + c) / (scale * 2 ** (-fret / 12) + c)) - 100 * fret;
}

describe('log with a standard', () => {
  const standard = ['--standard', 'standard.json'];

  test('advises the move that the geometry asks for, found here by bisection', async () => {
    // The standard wants the 12th exact (share 0) and a rise of 3: a 12th of +4 is to come down by 4 cents.
    const kappa = 2 ** (17 / 12) - 1;
    let [low, high] = [0, 10];
    while (high - low > 1e-9)
      [low, high] = geometry(12, (low + high) / 2) > -4 ? [(low + high) / 2, high] : [low, (low + high) / 2];
    const seventeenth = (3 + 4 * kappa).toFixed(2);
    const { answers } = await type([...larch, ...standard], '+4', seventeenth, 'end');
    const [, t, way, then, , caution] = answers[1]!.split('\n');
    expect(t).toMatch(/^ {2}t = \+3\.0 cents, as usual \(/);
    const [, mm, turns] = /back, away from the neck, (\d\.\d\d) mm, (.*) turns\./.exec(way!)!;
    expect(Math.abs(Number(mm) - low)).toBeLessThanOrEqual(0.025 + 1e-6);
    const [whole, part] = turns!.split(' ');
    const [over, under] = part!.split('/').map(Number) as [number, number];
    expect(Math.abs(Number(whole) + over / under - low / 0.7)).toBeLessThanOrEqual(1 / 16 + 1e-6);
    expect(then).toMatch(/^ {2}Then, open string retuned: 12th 0\.0 \(wanted 0\.0 ± 1\.0\), 17th \+(\d\.\d)\.$/);
    const predicted = Number(/17th \+(\d\.\d)/.exec(then!)![1]);
    expect(predicted).toBeCloseTo(3 + 4 * kappa + geometry(17, low), 1);
    expect(caution).toMatch(/^ {2}Slacken the string before you move a saddle that carries its pull/);
  });

  test('leaves a saddle alone that stands right, and asks for the other strings of a shared one', async () => {
    const { answers } = await type(
      [...larch, ...standard],
      '0',
      '+3.0',
      'next instrument J2',
      'Kettle 4',
      '+4',
      '+9.7',
      'end',
    );
    expect(answers[1]!.split('\n').slice(2)).toEqual([
      '  Saddle: leave it, it is near enough.',
      '  As it is: 12th 0.0 (wanted 0.0 ± 1.0), 17th +3.0.',
    ]);
    expect(answers[5]!.split('\n').slice(2)).toEqual([
      '  The saddle is under strings 2, 3 and 4 too: read them before you move it.',
    ]);
  });

  test('says after a move how the saddle answered, where that was not as predicted', async () => {
    const { answers } = await type([...larch, ...standard], '+6', '+13.0', 'next pass', '1 12 +5.9', '17 12.9', 'end');
    expect(answers[2]).toBe('J1, Larch 6 (6 strings), pass 1');
    expect(answers[4]).toMatch(/String 1: the move asked for should have changed the 12th by -6\.\d cents/);
    expect(read()).toEqual(['0: 1/12 6', '0: 1/17 13.0', '1: 1/12 5.9', '1: 1/17 12.9']);
  });

  test('says the same as upneck worksheet on the same file', async () => {
    const typed = [1, 2, 3, 4, 5, 6].flatMap((string) => [`${string} 12 ${string - 3}.5`, `17 +${2 * string}`]);
    const { answers } = await type([...larch, ...standard], ...typed, 'worksheet', 'end');
    const { stdout, stderr, code } = await upneck(folder, 'worksheet', 'bench.csv', ...standard);
    expect({ code, stderr }).toEqual({ code: 0, stderr: 'Wrote out/worksheet-J1.html\n' });
    const table = (text: string): string => text.slice(0, text.indexOf('\nMind'));
    const own = table(answers[12]!);
    expect(own.split('\n').length).toBeGreaterThan(9);
    for (const line of own.split('\n').slice(0, 10)) expect(stdout).toContain(line);
  });
});

test('log resumes where the file leaves off, at the right pass and string', async () => {
  await type(larch, '+1.5', '+5', '2 12 0', 'next pass', 'pass 1', '1 12 0.5', 'end');
  const { text } = await type([], '+1.2', 'end');
  expect(text.split('\n').slice(0, 5)).toEqual([
    'bench.csv holds 4 readings, the last of J1. Type a reading as "3 12 +1.5"',
    '  (string, fret, cents), "help" or "end".',
    'J1, Larch 6 (6 strings), pass 1',
    '  string 1: 12 +0.5',
    'string 1, fret 17> +1.2',
  ]);
  expect(read().slice(3)).toEqual(['1: 1/12 0.5', '1: 1/17 1.2']);
  const back = await type(['--instrument', 'J1', '--pass', '0'], 'end');
  expect(back.text).toContain(
    'J1, Larch 6 (6 strings), pass 0\n  string 1: 12 +1.5, 17 +5.0\n  string 2: 12 0.0\nstring 2, fret 17> ',
  );
});

test('next pass is not taken by accident where nothing is read at this one', async () => {
  const { answers } = await type(larch, 'next pass', 'pass 1', '1 12 1.5', 'end');
  expect(answers[0]).toBe('  Nothing is read at pass 0 yet; if you mean it type "pass 1".');
  expect(read()).toEqual(['1: 1/12 1.5']);
});

describe('undo', () => {
  test('takes the last reading back and says where it is kept', async () => {
    const { answers, text } = await type(larch, '+1.5', '2 12 6.3', 'undo', '-2', 'end');
    expect(answers[2]).toBe(
      '  Taken back: J1, pass 0, string 2, fret 12: +6.3 cents. The row is kept in bench.csv.undone.',
    );
    expect(read()).toEqual(['0: 1/12 1.5', '0: 2/12 -2']);
    expect(rows('bench.csv.undone').map(({ cents }) => cents)).toEqual(['6.3']);
    expect(text).toContain('2 readings saved in this session; bench.csv holds 2.');
    // A folder of logs is read without the rows taken back.
    expect((await upneck(folder, 'import', '.', '--json')).stdout).toContain('"readings": 2,');
  });

  test('asks before it takes back what an earlier session saved', async () => {
    await type(larch, '+1.5', '+2', 'end');
    const { answers } = await type([], 'undo', 'no', 'undo', 'yes', 'end');
    expect(answers[0]).toBe(
      '  The last row was not logged in this session: J1, pass 0, string 1, fret 17: +2.0 cents. Type yes to take it back.',
    );
    expect(answers[1]).toBe('  Then not.');
    expect(read()).toEqual(['0: 1/12 1.5']);
    const empty = await type([], 'undo', 'yes', 'undo', 'end');
    expect(empty.answers[2]).toBe('  There is no reading at the end of bench.csv to take back.');
  });
});

test('log in hertz turns frequencies into cents against the tuning or the open string', async () => {
  // E4 in equal temperament is 329.6276 Hz (ISO 16, A4 = 440 Hz); an octave above it the 12th fret is exact.
  const { answers } = await type([...larch, '--hz'], '659.2551', '12 660,0', 'string 3', 'open 196.5', '393', 'end');
  expect(answers[0]).toBe('  string 1, fret 12: 659.2551 Hz, 0.0 cents, saved');
  // 1200 log2(660 / 659.2551) = 1.955
  expect(answers[1]).toMatch(/^ {2}string 1, fret 12: 660\.0 Hz, \+2\.0 cents, saved; a repeat/);
  expect(answers[4]).toBe('  string 3, fret 12: 393 Hz, 0.0 cents, saved');
  expect(rows().map(({ hz, open_hz }) => [hz, open_hz])).toEqual([
    ['659.2551', ''],
    ['660.0', ''],
    ['393', '196.5'],
  ]);
  const { answers: unknown } = await type(['--hz', '--instrument', 'K1', '--model', 'Kettle 4'], '100', 'end');
  expect(unknown[0]).toBe(
    '  Not saved: found 100, expected the open string in open_hz, or the tuning of this model in models.csv. Here: "string 1", then "open" and what it reads in hertz.',
  );
});

test('log takes the open string off, notes where the saddle stands, and forgets both with the string', async () => {
  await type(larch, 'open +0.5', 'saddle -1,25', '+2', '2 12 +2', 'end');
  expect(rows().map(({ cents, open_cents, saddle_mm }) => [cents, open_cents, saddle_mm])).toEqual([
    ['2', '0.5', '-1.25'],
    ['2', '', ''],
  ]);
  expect((await type([], 'list', 'end')).answers[0]).toContain('string 1: 12 +1.5');
});

test('upneck import reads every file that log writes, without a reject', async () => {
  await type(
    larch,
    '+1,5',
    '-4 "old" string; =sum',
    '2 12 0',
    '2 5 -0,25',
    'next pass',
    '1 12 -50',
    '1 12 +50.1',
    'yes',
    'end',
  );
  await type(['--instrument', "J'2", '--model', 'Kettle 4', '--technician', 'Änne, O'], '+3', '+5', 'end');
  const { code, stdout } = await upneck(folder, 'import', 'bench.csv', '--json');
  expect(code).toBe(0);
  expect(JSON.parse(stdout)).toMatchObject({ totals: { rows: 8, readings: 8, rejects: 0 } });
});

// Whatever is typed: nothing throws, what was said to be saved is in the file, and import takes all of it.
test('log keeps count of what it says it saved, whatever is typed', async () => {
  const number = fc.oneof(
    fc.integer({ min: -70, max: 70 }),
    fc.constantFrom('+1.5', '-2,25', '0', '12', '17', '.5', '1e3'),
  );
  const words = [
    'n',
    'next pass',
    'pass 2',
    'next instrument',
    'instrument J2',
    'open 0,5',
    'open x',
    'saddle -1',
    'undo',
  ];
  const line = fc.oneof(
    { weight: 6, arbitrary: fc.array(number, { minLength: 1, maxLength: 4 }).map((each) => each.join(' ')) },
    { weight: 3, arbitrary: fc.constantFrom('', 'yes', 'no', 'list', 'worksheet', 'help', 'Kettle 4', 'J3', ...words) },
    { weight: 1, arbitrary: fc.string({ unit: 'binary', maxLength: 20 }).filter((text) => !/^\s*(e|q)/i.test(text)) },
  );
  await fc.assert(
    fc.asyncProperty(fc.array(line, { maxLength: 40 }), async (typed) => {
      rmSync(join(folder, 'bench.csv'), { force: true });
      const { text } = await type([...larch, '--standard', 'standard.json'], ...typed);
      const count = (pattern: RegExp): number => [...text.matchAll(pattern)].length;
      const saved = count(/ cents(?: \(open string taken off\))?, saved/g) - count(/^ {2}Taken back: /gm);
      expect(text).toMatch(new RegExp(`${saved} readings? saved in this session; bench.csv holds ${saved}\\.`));
      if (saved === 0) return;
      const { stdout } = await upneck(folder, 'import', 'bench.csv', '--json');
      expect(JSON.parse(stdout)).toMatchObject({ totals: { rows: saved, readings: saved, rejects: 0 } });
    }),
    { seed: 5, numRuns: 60 },
  );
});

describe('log refuses a call', () => {
  test.each([
    [[], 'found 0 files; expected one, the log to add readings to'],
    [['a.csv', 'b.csv'], 'found 2 files; expected one, the log to add readings to'],
    [['a.csv', '--model', 'Larch 6'], 'found --model without --instrument; expected both, or neither'],
    [['a.csv', '--pass', '-1'], "Option '--pass' argument is ambiguous"],
    [['a.csv', '--pass', 'two'], 'found --pass two; expected a whole number: 0 is as received'],
    [['a.csv', '--technician', '=x'], 'found --technician "=x"; expected a name that begins with a letter or a digit'],
    [['models.csv'], 'found models.csv, the name of a models file; expected a log'],
  ])('%j', async (args, message) => {
    const { code, stderr } = await upneck(folder, 'log', ...args);
    expect(code).toBe(2);
    expect(stderr).toContain(`upneck log: ${message}`);
  });

  test('on a log that its rows do not fit', async () => {
    writeFileSync(join(folder, 'wide.csv'), 'instrument,model,string,f12,f17\n');
    expect(await upneck(folder, 'log', 'wide.csv')).toEqual({
      code: 1,
      stdout: '',
      stderr:
        'upneck log: wide.csv: the log has one string a row, and readings come one a row. Give the name of a new file, which gets every column\n',
    });
  });
});
