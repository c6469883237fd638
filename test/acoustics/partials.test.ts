import { expect, test } from 'vitest';
import { beatHz, coincidingPartials } from '../../src/acoustics/partials.ts';
import { cents, hzOfNote } from '../../src/acoustics/pitch.ts';

// Beats of equal-tempered intervals at A4 = 440 Hz, to one decimal: J. Neurosci. 32(35), 12251-12257 (2012), Table 1, doi
// 10.1523/JNEUROSCI.0082-12.2012, after Capleton (2007).
const published: Record<string, readonly (readonly [string, string, number])[]> = {
  'major third': [
    ['F3', 'A3', 6.9],
    ['F#3', 'A#3', 7.3],
    ['G3', 'B3', 7.8],
    ['Ab3', 'C4', 8.2],
    ['A3', 'C#4', 8.7],
    ['C4', 'E4', 10.4],
    ['Eb4', 'G4', 12.3],
  ],
  'perfect fourth': [
    ['F3', 'Bb3', 0.8],
    ['G3', 'C4', 0.9],
    ['A3', 'D4', 1.0],
    ['B3', 'E4', 1.1],
    ['D4', 'G4', 1.3],
  ],
  'perfect fifth': [
    ['F3', 'C4', 0.6],
    ['G3', 'D4', 0.7],
    ['B3', 'F#4', 0.8],
    ['C4', 'G4', 0.9],
  ],
  'major sixth': [
    ['F3', 'D4', 7.9],
    ['F#3', 'D#4', 8.4],
    ['G3', 'E4', 8.9],
    ['Bb3', 'G4', 10.6],
  ],
  'minor third': [
    ['F3', 'Ab3', 9.4],
    ['A3', 'C4', 11.9],
    ['B3', 'D4', 13.3],
    ['C4', 'Eb4', 14.1],
  ],
  'minor sixth': [
    ['F3', 'Db4', 11.0],
    ['G3', 'Eb4', 12.3],
    ['A3', 'F4', 13.9],
    ['B3', 'G4', 15.6],
  ],
};

test.each(Object.entries(published))('beatHz of every %s is the published one, to its one decimal', (_, rows) => {
  for (const [low, high, beats] of rows) {
    const [lowHz, highHz] = [hzOfNote(low), hzOfNote(high)];
    const partials = coincidingPartials(Math.round(cents(highHz, lowHz) / 100))!;
    expect(Math.abs(beatHz(lowHz, highHz, partials) - beats), `${low} ${high}`).toBeLessThanOrEqual(0.0501);
  }
});

// Just ratios of the consonances: Helmholtz, "On the Sensations of Tone", chapter 10 (from memory).
test.each([
  [0, 1, 1],
  [3, 6, 5],
  [4, 5, 4],
  [5, 4, 3],
  [7, 3, 2],
  [8, 8, 5],
  [9, 5, 3],
  [12, 2, 1],
  [16, 5, 2],
  [19, 3, 1],
  [24, 4, 1],
])('coincidingPartials of %d semitones is its just ratio %d:%d', (semitones, lower, upper) => {
  expect(coincidingPartials(semitones)).toEqual({ lower, upper });
});

test('coincidingPartials is the closest of all 64 pairs of the first eight partials, or null beyond half a semitone', () => {
  const numbers = [1, 2, 3, 4, 5, 6, 7, 8];
  for (let semitones = 0; semitones <= 48; semitones++) {
    const apart = (p: number, q: number): number => Math.abs(12 * Math.log2(p / q) - semitones);
    const least = Math.min(...numbers.flatMap((p) => numbers.map((q) => apart(p, q))));
    const found = coincidingPartials(semitones);
    if (least > 0.5) expect(found, `${semitones}`).toBeNull();
    else expect(apart(found!.lower, found!.upper), `${semitones}`).toBeCloseTo(least, 10);
  }
});

test('coincidingPartials finds none in a semitone and in a major seventh', () => {
  expect(coincidingPartials(1)).toBeNull();
  expect(coincidingPartials(11)).toBeNull();
});

// An upper tone D hertz off n/m of the lower beats m D times a second: Houtsma, Rossing & Wagenaars, "Auditory
// Demonstrations" (Acoustical Society of America, 1987), demonstration 32.
test.each([
  [1, 1],
  [2, 1],
  [3, 2],
  [5, 4],
])('beatHz of a ratio %d:%d mistuned by D hertz is D times the number of the upper partial', (n, m) => {
  for (const mistuned of [-1.5, 0.25, 2])
    expect(beatHz(220, (n / m) * 220 + mistuned, { lower: n, upper: m })).toBeCloseTo(m * Math.abs(mistuned), 10);
});

// A beat of about 1 Hz is 8 cents at A3: Anderson & Beausoleil, "Classical Guitar Intonation and Compensation",
// introduction.
test('beatHz of two A3 strings 8 cents apart is about 1 Hz', () => {
  expect(beatHz(220, 220 * 2 ** (8 / 1200), { lower: 1, upper: 1 })).toBeCloseTo(1.0, 1);
});
