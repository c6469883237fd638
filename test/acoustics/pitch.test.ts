import { expect, test } from 'vitest';
import { cents, hzAbove, hzOfNote } from '../../src/acoustics/pitch.ts';

// Definition of the cent: an octave is 1200, an equal-tempered semitone 100; a just fifth 3:2 is 701.955 (from memory).
test('cents measures an octave as 1200 and a just fifth as 701.955', () => {
  expect(cents(880, 440)).toBe(1200);
  expect(cents(660, 440)).toBeCloseTo(701.955, 3);
});

// Equal-tempered frequencies E4, B3, G3, D3 at A4 = 440 Hz as tabulated in Anderson & Beausoleil, "Classical Guitar
// Intonation and Compensation", string specification tables.
test.each([
  ['E4', 329.6275569],
  ['B3', 246.9416506],
  ['G3', 195.997718],
  ['D3', 146.832384],
])('hzOfNote gives %s the published %d Hz', (name, hz) => {
  expect(hzOfNote(name)).toBeCloseTo(hz, 6);
});

test('hzOfNote reads accidentals and another concert pitch', () => {
  expect(hzOfNote('Bb3')).toBeCloseTo(hzOfNote('A#3'), 12);
  expect(hzOfNote('A4', 442)).toBe(442);
});

test('hzAbove undoes cents', () => {
  expect(cents(hzAbove(196, -7.5), 196)).toBeCloseTo(-7.5, 10);
});

test('cents refuses a frequency that is not positive', () => {
  expect(() => cents(0, 440)).toThrow('Cannot take cents of 0 Hz; expected a positive frequency in hertz');
});

test('hzOfNote refuses what is not a note name', () => {
  expect(() => hzOfNote('H2')).toThrow('Cannot read the note "H2"; expected a name such as E4, F#3 or Bb1');
});
