import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { checkChords } from '../../src/policy/chord-check.ts';
import { readShapes, type Shape } from '../../src/policy/chord-shapes.ts';
import type { NeckMap } from '../../src/policy/neck-map.ts';

const shapes = readShapes(readFileSync('shared/shapes/common.csv', 'utf8'), 'common.csv');
const named = (name: string): Shape => shapes.find(({ shape }) => shape === name)!;

const spec = {
  model: 'Fern',
  scaleMm: 648,
  strings: 6,
  frets: 22,
  saddles: [[1], [2], [3], [4], [5], [6]],
  mmPerTurn: null,
  travelMm: null,
  placement: 'equal',
};

/** Errors that tell every string and fret apart: before 1.1 string + 0.13 fret, after -0.7 string + 0.05 fret; open in tune. */
const errors = {
  before: (string: number, fret: number): number => (fret === 0 ? 0 : 1.1 * string + 0.13 * fret),
  after: (string: number, fret: number): number => (fret === 0 ? 0 : -0.7 * string + 0.05 * fret),
};

function neck(strings: number, frets = 22): NeckMap {
  const notes = (of: (string: number, fret: number) => number, string: number) =>
    Array.from({ length: frets + 1 }, (_, fret) => {
      const cents = of(string, fret);
      return { cents, low: cents - 1, high: cents + 1, isRead: false };
    });
  return {
    model: 'Fern',
    instrument: null,
    before: '12th exact',
    frets,
    strings: Array.from({ length: strings }, (_, at) => ({
      string: at + 1,
      before: notes(errors.before, at + 1),
      after: notes(errors.after, at + 1),
    })),
    unread: [],
    isNutKnown: true,
  };
}

/** MIDI note numbers of the open strings, from string 1 (E4 is 64). */
const guitar = [64, 59, 55, 50, 45, 40];

describe('checkChords', () => {
  const check = checkChords(neck(6), shapes, [spec]);

  // Frequencies of equal-tempered notes at A4 = 440 Hz as tabulated: B. H. Suits, "Physics of Music - Notes", Michigan
  // Technological University, pages.mtu.edu/~suits/notefreqs.html. ISO 16 sets A4 at 440 Hz (from memory).
  test('takes the notes of open E major from the tuning: E2 B2 E3 G#3 B3 E4', () => {
    const { intervals } = check.shapes.find(({ shape }) => shape === 'open E major')!;
    const notes = [...new Set(intervals.flatMap(({ lower, upper }) => [lower, upper]))].sort((a, b) => a.hz - b.hz);
    expect(notes.map(({ string }) => string)).toEqual([6, 5, 4, 3, 2, 1]);
    [82.41, 123.47, 164.81, 207.65, 246.94, 329.63].forEach((hz, at) => {
      expect(notes[at]!.hz).toBeCloseTo(hz, 2);
    });
    expect(intervals).toHaveLength(15);
  });

  // Independent computation: MIDI note numbers, frequencies 440 2^((m - 69)/12 + cents/1200), and partials by the just ratio.
  test('gives interval errors and beats as computed from frequencies', () => {
    const just: Record<number, [number, number]> = {
      0: [1, 1],
      3: [6, 5],
      4: [5, 4],
      5: [4, 3],
      7: [3, 2],
      12: [2, 1],
    };
    let seen = 0;
    for (const { frets, intervals } of check.shapes)
      for (const { lower, upper, semitones, cents, beats } of intervals) {
        const midi = (string: number): number => guitar[string - 1]! + frets[string - 1]!;
        expect(semitones).toBe(midi(upper.string) - midi(lower.string));
        const hz = (string: number, off: number): number => 440 * 2 ** ((midi(string) - 69) / 12 + off / 1200);
        for (const side of ['before', 'after'] as const) {
          const [f, g] = [lower, upper].map(({ string }) => hz(string, errors[side](string, frets[string - 1]!)));
          expect(cents[side]).toBeCloseTo(1200 * Math.log2(g! / f!) - 100 * semitones, 8);
          if (!just[semitones]) continue;
          const [p, q] = just[semitones];
          expect(beats!.partials).toEqual({ lower: p, upper: q });
          expect(beats![side]).toBeCloseTo(Math.abs(p * f! - q * g!), 8);
          expect(beats!.equalTemperament).toBeCloseTo(Math.abs(p * hz(lower.string, 0) - q * hz(upper.string, 0)), 8);
          seen++;
        }
      }
    expect(seen).toBeGreaterThan(100);
  });

  test('names the interval that errs most before and after', () => {
    for (const { intervals, worst } of check.shapes)
      for (const side of ['before', 'after'] as const)
        expect(Math.abs(worst[side].cents[side])).toBe(
          Math.max(...intervals.map(({ cents }) => Math.abs(cents[side]))),
        );
  });

  test('beats as equal temperament does on a neck without errors', () => {
    const silent = (): { cents: number; low: number; high: number; isRead: boolean }[] =>
      Array.from({ length: 23 }, () => ({ cents: 0, low: 0, high: 0, isRead: false }));
    const perfect = {
      ...neck(6),
      strings: guitar.map((_, at) => ({ string: at + 1, before: silent(), after: silent() })),
    };
    for (const { intervals } of checkChords(perfect, shapes, [spec]).shapes)
      for (const { cents, beats } of intervals) {
        expect(cents).toEqual({ before: 0, after: 0 });
        if (beats) expect([beats.before, beats.after]).toEqual([beats.equalTemperament, beats.equalTemperament]);
      }
  });

  test('takes the tuning of models.csv, and says when it had to assume one', () => {
    expect(check.tuning).toBe('assumed');
    const low = checkChords(
      neck(6),
      [named('open E major')],
      [{ ...spec, tuningHz: guitar.map((midi) => 440 * 2 ** ((midi - 71) / 12)) }],
    );
    expect(low.tuning).toBe('given');
    // A whole tone lower: D2, 73.42 Hz in the same table.
    expect(low.shapes[0]!.intervals[0]!.lower.hz).toBeCloseTo(73.42, 2);
  });
});

describe('checkChords says why a shape does not fit', () => {
  const reasons = (map: NeckMap, specs: Parameters<typeof checkChords>[2], names: string[]): string[] =>
    checkChords(map, names.map(named), specs).unfit.map(({ shape, reason }) => `${shape}: ${reason}`);

  test('too few strings, and strings other intervals apart', () => {
    expect(reasons(neck(4), [], ['open C major', 'octave at fret 5'])).toEqual([
      'open C major: the instrument has 4 strings, the shape is for 6',
    ]);
    expect(reasons(neck(6), [spec], ['octave at fret 5', 'open C major'])).toEqual([
      'octave at fret 5: the strings of the instrument stand other intervals apart',
    ]);
  });

  test('too few frets', () => {
    const short = ['triad at fret 17', 'E shape barre at fret 12'];
    expect(reasons(neck(6, 16), [{ ...spec, frets: 16 }], short)).toEqual([
      'triad at fret 17: the instrument has 16 frets, the shape needs 18',
    ]);
  });

  test('a string that was not read', () => {
    const map = neck(6);
    const partly = { ...map, strings: map.strings.filter(({ string }) => string !== 5), unread: [5] };
    expect(reasons(partly, [spec], ['open C major', 'open D major'])).toEqual([
      'open C major: string 5 of the instrument was not read',
    ]);
  });

  test('a tuning that nobody knows', () => {
    expect(reasons(neck(8), [], ['open C major'])).toEqual([
      'open C major: the tuning of the instrument is not known (models.csv can give it)',
    ]);
  });

  test('not at all on a seven-string or a five-string bass, whose further string stays silent', () => {
    expect(reasons(neck(7), [], ['open C major', 'E shape barre at fret 8'])).toEqual([]);
    expect(reasons(neck(5), [], ['octave at fret 5', 'tenth at fret 12'])).toEqual([]);
  });
});
