import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { numberAfter, readBenchLine } from '../../../src/clients/terminal/bench-line.ts';

const reading = (line: string): unknown => {
  const read = readBenchLine(line);
  return read.kind === 'reading' ? [read.string, read.fret, read.value, read.note] : read;
};

describe('readBenchLine', () => {
  test.each([
    ['3 12 +1.5', [3, 12, '1.5', '']],
    ['12 1.5', [undefined, 12, '1.5', '']],
    ['+1,5', [undefined, undefined, '1.5', '']],
    ['3\t12\t\u22121,5', [3, 12, '-1.5', '']],
    ['3  12  - 1.5 ', [3, 12, '-1.5', '']],
    ['3 12 .5', [3, 12, '0.5', '']],
    ['3 12 -,5', [3, 12, '-0.5', '']],
    ['3 12 2.', [3, 12, '2', '']],
    ['3 12 0 dull, 2nd try', [3, 12, '0', 'dull, 2nd try']],
    ['12 +3 old string', [undefined, 12, '3', 'old string']],
  ])('reads %j', (line, expected) => {
    expect(reading(line)).toEqual(expected);
  });

  test.each([
    ['n', 'next', ''],
    ['NEXT pass', 'next', 'pass'],
    ['st 4', 'string', '4'],
    ['u', 'undo', ''],
    ['quit', 'end', ''],
    ['?', 'help', ''],
    ['saddle -1,2', 'saddle', '-1,2'],
  ])('reads the word in %j', (line, word, rest) => {
    expect(readBenchLine(line)).toMatchObject({ kind: 'word', word, rest });
  });

  test.each([
    ['3.5 12 1', '"3.5" for the string', 'a whole number: string, fret, then the reading, as in "3 12 +1.5"'],
    ['+3 12 1', '"+3" for the string', 'a whole number: string, fret, then the reading, as in "3 12 +1.5"'],
    ['3 12 1 5', '4 numbers', 'string, fret and cents: "3 12 +1.5"'],
    ['3,12,1.5', '"3,12,1.5"', 'numbers apart by spaces, such as "3 12 +1.5"'],
    ['12 1.5.2', '"1.5.2"', 'numbers apart by spaces, such as "3 12 +1.5"'],
    ['--3', '"--3"', 'numbers apart by spaces, such as "3 12 +1.5"'],
    ['s', '"s"', 'one of string, saddle'],
    ['sharp', '"sharp"', 'a reading such as "3 12 +1.5", or a word that "help" lists'],
    ['12 \x1b[A', 'keys that are no text', 'letters, digits and the backspace key'],
  ])('says what is not clear in %j', (line, found, expected) => {
    expect(readBenchLine(line)).toEqual({ kind: 'unclear', found, expected });
  });

  test('tells a word typed whole and alone, which may stand where a name is asked for', () => {
    const isAlone = (line: string): unknown => readBenchLine(line).kind === 'word' && readBenchLine(line);
    for (const line of ['end', 'Quit', '?', ' undo ']) expect(isAlone(line)).toMatchObject({ isAlone: true });
    for (const line of ['en', 'u', 'instrument end']) expect(isAlone(line)).toMatchObject({ isAlone: false });
  });

  // An identity: what a person writes down in either notation is the number meant.
  test('reads the number meant, with either decimal mark and any sign', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 12 }),
        fc.integer({ min: 1, max: 36 }),
        fc.integer({ min: -6000, max: 6000 }),
        fc.constantFrom('.', ','),
        fc.constantFrom('-', '\u2212'),
        (string, fret, hundredths, mark, minus) => {
          const sign = hundredths < 0 ? minus : '+';
          const typed = `${string} ${fret} ${sign}${(Math.abs(hundredths) / 100).toFixed(2).replace('.', mark)}`;
          const read = readBenchLine(typed);
          expect(read).toMatchObject({ kind: 'reading', string, fret, marked: true });
          expect(read.kind === 'reading' && Number(read.value)).toBeCloseTo(hundredths / 100, 12);
        },
      ),
      { seed: 2 },
    );
  });

  // Whatever falls on the keys is answered, never thrown at.
  test('answers any text', () => {
    fc.assert(
      fc.property(fc.string({ unit: 'binary', maxLength: 40 }), (line) => {
        expect(['nothing', 'reading', 'word', 'unclear']).toContain(readBenchLine(line).kind);
      }),
      { seed: 3, numRuns: 500 },
    );
  });
});

test('numberAfter reads one number and nothing else', () => {
  expect(['-1,2', '+ 3', '196.1', '', '1 2', 'back'].map(numberAfter)).toEqual([
    '-1.2',
    '3',
    '196.1',
    undefined,
    undefined,
    undefined,
  ]);
});
