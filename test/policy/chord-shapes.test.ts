import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { readShapes } from '../../src/policy/chord-shapes.ts';

const shapes = readShapes(readFileSync('shared/shapes/common.csv', 'utf8'), 'common.csv');

/** Pitch classes, C = 0, that a shape sounds, lowest note first. */
function pitchClasses({ tuningHz, frets }: (typeof shapes)[number]): number[] {
  return frets
    .flatMap((fret, at) => (fret === null ? [] : [Math.round(69 + 12 * Math.log2(tuningHz[at]! / 440)) + fret]))
    .sort((a, b) => a - b)
    .map((midi) => midi % 12);
}

const letters = 'C C# D D# E F F# G G# A A# B'.split(' ');

// A major triad is root, major third and fifth (0, 4, 7 semitones), a minor one root, minor third and fifth (0, 3, 7).
test('readShapes gives every open shape the notes of the chord it is named for', () => {
  const open = shapes.filter(({ shape }) => shape.startsWith('open'));
  expect(open).toHaveLength(8);
  for (const one of open) {
    const [, letter, mode] = one.shape.split(' ');
    const root = letters.indexOf(letter!);
    const triad = [0, mode === 'major' ? 4 : 3, 7].map((step) => (root + step) % 12);
    expect(new Set(pitchClasses(one)), one.shape).toEqual(new Set(triad));
  }
});

test('readShapes gives every barre the notes of its open shape, so many frets higher', () => {
  const barres = shapes.filter(({ shape }) => shape.includes('barre'));
  expect(barres).toHaveLength(7);
  for (const one of barres) {
    const [, letter, minor, fret] = /^([AE])(m?) shape barre at fret (\d+)$/.exec(one.shape)!;
    const open = shapes.find(({ shape }) => shape === `open ${letter} ${minor ? 'minor' : 'major'}`)!;
    expect(one.frets, one.shape).toEqual(open.frets.map((at) => (at === null ? null : at + Number(fret))));
  }
});

test('readShapes gives two bass notes the interval they are named for', () => {
  const semitones: Record<string, number> = { fourth: 5, fifth: 7, octave: 12, tenth: 16 };
  const pairs = shapes.filter(({ tuningHz }) => tuningHz.length === 4);
  expect(pairs).toHaveLength(6);
  for (const { shape, tuningHz, frets } of pairs) {
    const notes = frets.flatMap((fret, at) => (fret === null ? [] : [12 * Math.log2(tuningHz[at]!) + fret]));
    expect(notes).toHaveLength(2);
    expect(Math.abs(notes[0]! - notes[1]!), shape).toBeCloseTo(semitones[shape.split(' ')[0]!]!, 8);
  }
});

test('readShapes reads other separators, a byte order mark and another pitch standard', () => {
  const [fifth, fourth] = readShapes(
    '\ufeffShape;Tuning;Frets\nfifth; A4 | D4 ; 2|0\nfourth;A4|D4;0|0\n',
    'my.csv',
    442,
  );
  expect(fifth!.tuningHz[0]).toBe(442);
  expect([fifth!.frets, fourth!.frets]).toEqual([
    [2, 0],
    [0, 0],
  ]);
});

test.each([
  ['shape,frets\n', 'my.csv:1: found columns "shape, frets", expected shape, tuning, frets'],
  ['', 'my.csv:1: found columns "", expected shape, tuning, frets'],
  [
    'shape,tuning,frets\nfifth,H4|D4,0|0\n',
    'my.csv:2, column "tuning": found "H4|D4", expected open notes from string 1, such as E4|B3|G3|D3|A2|E2',
  ],
  [
    'shape,tuning,frets\n\nfifth,A4|D4,0|y\n',
    'my.csv:3, column "frets": found "0|y", expected 2 frets from 0 to 36 or x, of which two are played, such as 0|1|0|2|3|x',
  ],
  [
    'shape,tuning,frets\nfifth,A4|D4,0|x\n',
    'my.csv:2, column "frets": found "0|x", expected 2 frets from 0 to 36 or x, of which two are played, such as 0|1|0|2|3|x',
  ],
  [
    'shape,tuning,frets\nfifth,A4|D4,0|0|0\n',
    'my.csv:2, column "frets": found "0|0|0", expected 2 frets from 0 to 36 or x, of which two are played, such as 0|1|0|2|3|x',
  ],
  [
    'shape,tuning,frets\nfifth,A4|D4,0|37\n',
    'my.csv:2, column "frets": found "0|37", expected 2 frets from 0 to 36 or x, of which two are played, such as 0|1|0|2|3|x',
  ],
  ['shape,tuning,frets\n,A4|D4,0|0\n', 'my.csv:2, column "shape": found "", expected a name'],
])('readShapes refuses %j and says where', (text, message) => {
  expect(() => readShapes(text, 'my.csv')).toThrow(message);
});

test('readShapes refuses what is not CSV', () => {
  expect(() => readShapes('shape,tuning,frets\n"open', 'my.csv')).toThrow(
    /^my\.csv: not a CSV file \(.*\); expected the columns/,
  );
});
