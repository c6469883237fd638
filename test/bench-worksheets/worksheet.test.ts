import { expect, test } from 'vitest';
import { makeWorksheets, type Worksheet } from '../../src/bench/worksheet.ts';
import { worksheetContents, worksheetText } from '../../src/bench/worksheet-text.ts';
import type { Finding } from '../../src/logs/findings.ts';
import { type BenchReading, evenUsage, readingsOf, standardOf } from './bench-standard.ts';

const kappa = 2 ** (17 / 12) - 1;
const six = { model: 'Larch', rises: [3, 3, 3, 3, 3, 3], share: 0 };
const options = { standard: standardOf([six]), models: [], usage: evenUsage };

/** A 12th and a 17th of each string: rise 3 and what is added to it, 12th as given. */
function read(twelfths: readonly number[], { more = 0, pass = 0 } = {}): BenchReading[] {
  return twelfths.flatMap((cents, at) => [
    { string: at + 1, pass, fret: 12, cents },
    { string: at + 1, pass, fret: 17, cents: 3 + more + kappa * cents },
  ]);
}
const sheetOf = (rows: readonly BenchReading[], beside = {}): Worksheet =>
  makeWorksheets(readingsOf(rows), { ...options, ...beside })[0]!;

test('makeWorksheets says for each string which way its saddle goes', () => {
  const { saddles } = sheetOf(read([6, -6, 0, 0.5, 3, -3]));
  expect(saddles.map(({ move }) => move!.action)).toEqual(['back', 'forward', 'leave', 'leave', 'back', 'forward']);
  expect(saddles.map(({ move }) => Math.sign(move!.moveMm))).toEqual([1, -1, 0, 0, 1, -1]);
});

test('makeWorksheets makes a sheet for each instrument, and each string keeps its latest pass', () => {
  const rows = [
    ...read([6, 6]).map((row) => ({ ...row, instrument: 'J2' })),
    ...read([4, 4]),
    ...read([0.1], { pass: 1 }),
    ...read([5]).map((row) => ({ ...row, instrument: 'J2', pass: 3 })),
  ];
  const sheets = makeWorksheets(readingsOf(rows), options);
  expect(sheets.map(({ instrument, pass }) => [instrument, pass])).toEqual([
    ['J2', 3],
    ['J1', 1],
  ]);
  expect(sheets[1]!.saddles.map(({ pass, strings }) => [pass, strings[0]!.read12])).toEqual([
    [1, 0.1],
    [0, 4],
  ]);
});

test('a model that the standard does not have falls back on the mean of its models, and says so', () => {
  const standard = standardOf([six, { model: 'Elm', rises: [5, 5, 5, 5, 5, 5], share: 1 }]);
  const sheet = sheetOf(
    read([4, 4]).map((row) => ({ ...row, model: 'Yew' })),
    { standard },
  );
  expect(sheet.saddles[0]!.strings[0]!.expectation).toMatchObject({ from: 'shop', rise: 4, share: 0.5 });
  expect(sheet.notes).toContain(
    'The standard does not have model Yew; the mean of its models for that string number stands in, and is less sure.',
  );
  expect(sheet.notes).toContain(
    'The scale length is not known; 648 mm is assumed. Millimetres grow in proportion to it.',
  );
  expect(sheet.notes).toContain('What a turn of the screw does is not known, so no turns are given.');
  expect(sheet.saddles[0]!.move!.turns).toBeNull();
});

test('a string beyond the standard is named, the others get their moves', () => {
  const sheet = sheetOf(read([4, 4, 4, 4, 4, 4, 4, 4]));
  expect(sheet.beyond).toEqual([7, 8]);
  expect(sheet.saddles).toHaveLength(6);
  expect(sheet.notes).toContain(
    'Strings 7 and 8: no model of the standard has such a string; nothing can be said of it.',
  );
  const none = sheetOf(read([4]).map((row) => ({ ...row, string: 9 })));
  expect(none.saddles).toEqual([]);
  expect(worksheetText(none)).toContain('String 9: no model of the standard has such a string');
});

test('missing readings are named, with what stands in for them', () => {
  const rows = read([4, 4, 4]).filter(
    ({ string, fret }) => !(string === 1 && fret === 17) && !(string === 2 && fret === 12),
  );
  const { notes, saddles } = sheetOf([...rows.filter(({ string }) => string !== 3), { string: 3, fret: 5, cents: 1 }]);
  expect(notes).toContain("String 1: the 17th was not read; the expected rise stands in for the string's own.");
  expect(notes).toContain(
    'String 2: the 12th was not read; it is inferred from the 17th and the expected rise. Better read it.',
  );
  expect(notes).toContain(
    'String 3: neither the 12th nor the 17th was read, so nothing can be said of the saddle. Read both.',
  );
  expect(saddles.map(({ move }) => move?.action)).toEqual(['back', 'back', undefined]);
});

test('strings on a saddle that were not read are said to move too', () => {
  const standard = standardOf([
    {
      ...six,
      saddles: [
        [1, 2],
        [3, 4],
        [5, 6],
      ],
    },
  ]);
  const sheet = sheetOf(read([4]), { standard });
  expect(sheet.saddles[0]!.unread).toEqual([2]);
  expect(sheet.notes).toContain('String 2 on the saddle of string 1: not read at this pass; a move shifts it too.');
});

test('models.csv and the log come before what the standard says of the saddle', () => {
  const models = [
    {
      model: 'Larch',
      scaleMm: 600,
      strings: 6,
      frets: 20,
      saddles: six.rises.map((_, at) => [at + 1]),
      mmPerTurn: 0.5,
      travelMm: 8,
    },
  ];
  expect(sheetOf(read([4]), { models }).facts).toMatchObject({
    scaleMm: 600,
    scaleFrom: 'models',
    mmPerTurn: 0.5,
    travelMm: 8,
    frets: 20,
  });
  const stated = read([4]).map((row) => ({ ...row, scaleMm: 640 }));
  expect(sheetOf(stated, { models }).facts).toMatchObject({ scaleMm: 640, scaleFrom: 'log', mmPerTurn: 0.5 });
  expect(sheetOf(read([4])).facts).toMatchObject({ scaleMm: 648, scaleFrom: 'models', mmPerTurn: 0.7 });
});

test('an instrument unlike its model says what to check first, in the words of the fault screen', () => {
  const high = sheetOf(read([0, 0, 0, 0, 0, 0], { more: 6 }));
  expect(high.faults.map(({ kind }) => kind)).toEqual(['all-strings-high']);
  expect(high.checks).toEqual([
    'All strings together rise +6.0 cents against the model: check first for a high action, a high nut or a heavy hand.',
  ]);
  const one = sheetOf(
    read([0, 0, 0, 0, 0, 0]).map((row) => (row.string === 2 && row.fret === 17 ? { ...row, cents: 14 } : row)),
  );
  expect(one.faults).toMatchObject([{ kind: 'one-string', strings: [2] }]);
  expect(one.checks[0]).toMatch(
    /^String 2 alone rises \+\d+\.\d cents against the model: check first for an old or damaged string, then its nut slot\.$/,
  );
  expect(one.notes[0]).toBe('Unusual rise, as 5 of 100 have it: string 2 +14.0 (usual +3.0 ± 2.8).');
  const sound = sheetOf(read([0, 0, 0, 0, 0, 0]));
  expect(sound.checks).toEqual([]);
  expect(sound.notes[0]).toBe('The rise as read is usual on every string read at both frets.');
});

// Simulated from what the standard says: nothing should be suspected but by chance. Levels: 1 in 1000 an instrument, 1 in
// 10,000 a string.
test('a sound instrument of a model that the standard lacks is not suspected for its model’s own rise', () => {
  const standard = standardOf(
    [0, 3, 6].map((rise) => ({ ...six, model: `M${rise}`, rises: six.rises.map(() => rise) })),
  );
  const rows = read([0, 0, 0, 0, 0, 0], { more: 4 }).map((row) => ({ ...row, model: 'Yew' }));
  expect(sheetOf(rows, { standard }).checks).toEqual([]);
  expect(
    sheetOf(
      rows.map((row) => ({ ...row, model: 'M3' })),
      { standard },
    ).checks,
  ).toHaveLength(1);
});

test('rows of the log that look wrong are among what to check first, those of other instruments are not', () => {
  const finding: Finding = {
    kind: 'large-error',
    file: 'log.csv',
    line: 4,
    instrument: 'J1',
    string: 2,
    message: '+61.0 cents at fret 12',
  };
  const findings = [finding, { ...finding, instrument: 'J9' }, { ...finding, kind: 'whole-numbers' as const }];
  expect(sheetOf(read([0, 0]), { findings }).checks).toEqual(['log.csv:4, string 2: +61.0 cents at fret 12.']);
});

test('worksheetText stays in 80 columns, whatever names, strings and moves there are', () => {
  const long = 'Ω'.repeat(90);
  const rows = read([60, -60, 0, 45, -45, 33], { more: 9 }).flatMap((row) => [
    { ...row, instrument: long, model: long },
    { ...row, cents: row.cents + 20, pass: 1, instrument: long, model: long },
  ]);
  const sheet = sheetOf(rows, { standard: standardOf([{ ...six, model: long, travelMm: null, mmPerTurn: 0.3 }]) });
  for (const line of worksheetText(sheet).split('\n')) expect([...line].length, line).toBeLessThanOrEqual(80);
  const contents = worksheetContents([sheet, sheet], [`worksheet-${long}.html`, 'b.html']);
  for (const line of contents.split('\n')) expect([...line].length, line).toBeLessThanOrEqual(80);
});

test('worksheetText carries the cautions, and says what to do in words', () => {
  const text = worksheetText(sheetOf(read([6, -6, 0])));
  expect(text).toMatch(/ 1 +\+6\.0 +\+13\.0 +0\.0 ± 1\.0 +back 2\.\d\d mm, 3 1\/4 turns +0\.0 +\+3\.0/);
  expect(text).toMatch(/ 2 +-6\.0 +-7\.0 +0\.0 ± 1\.0 +forward 2\.\d\d mm, 3 1\/4 turns/);
  expect(text).toMatch(/ 3 +0\.0 +\+3\.0 +0\.0 ± 1\.0 +leave it/);
  expect(text).toMatch(/Slacken the string/);
  expect(text.replace(/\s+/g, ' ')).toMatch(/protect your eyes.*maker's instructions and your local rules/);
});

test('makeWorksheets says which saddle_mm it could not take, and calls only what is missing unwritten', () => {
  const rows = [
    { string: 1, pass: 0, fret: 12, cents: 6, saddleMm: 9.8 },
    { string: 2, pass: 0, fret: 12, cents: 6 },
  ];
  const { notes } = sheetOf(rows);
  expect(notes.filter((note) => note.includes('saddle_mm'))).toEqual([
    'Where the saddle of string 2 stands is not written down (saddle_mm): it is taken to stand in the middle of its travel, 7.00 mm from either end.',
    'The saddle of string 1: found saddle_mm 9.8, expected 7.00 mm at most either way of the nominal scale length; it is taken to stand in the middle of its travel. Check travel_mm in models.csv, or measure again.',
  ]);
});
