import { describe, expect, test } from 'vitest';
import { atString, nextFret, nextString, placeAt } from '../../../src/clients/terminal/place.ts';
import type { LoggedReading } from '../../../src/logs/append-log.ts';

/** Readings of instrument J1 at pass 0: `3/12` is string 3 at fret 12. */
function read(...frets: readonly `${number}/${number}`[]): LoggedReading[] {
  return frets.map((each) => {
    const [string, fret] = each.split('/').map(Number) as [number, number];
    const none = { technician: null, saddleMm: null, scaleMm: null, resolutionCents: null };
    return { instrument: 'J1', model: 'Larch 6', pass: 0, string, fret, cents: 0, ...none };
  });
}

test('nextFret asks for the 12th, then the 17th, then no more; other frets do not count', () => {
  expect(nextFret(read('3/5'), 3)).toBe(12);
  expect(nextFret(read('3/12', '4/17'), 3)).toBe(17);
  expect(nextFret(read('3/17', '3/12'), 3)).toBeNull();
});

describe('nextString', () => {
  const six = { strings: 6 } as const;

  test('goes on in the direction last gone, past strings that are read', () => {
    expect(nextString(read('3/12', '3/17'), { string: 2, heading: 1, ...six })).toBe(4);
    expect(nextString(read(), { string: 6, heading: -1, ...six })).toBe(5);
  });

  test('turns to those left out at the end, and says when all are read', () => {
    expect(nextString(read('5/12', '5/17'), { string: 6, heading: 1, ...six })).toBe(4);
    const all = [1, 2, 3, 4, 5].flatMap((string) => read(`${string}/12`, `${string}/17`));
    expect(nextString(all, { string: 6, heading: 1, ...six })).toBeNull();
  });

  test('counts on where the model is not known', () => {
    expect(nextString(read(), { string: 6, heading: 1, strings: undefined })).toBe(7);
    expect(nextString(read(), { string: 12, heading: 1, strings: undefined })).toBeNull();
  });
});

describe('placeAt', () => {
  const at = { instrument: 'J1', model: 'Larch 6', pass: 0 } as const;
  const stringOf = (readings: readonly LoggedReading[], heading: 1 | -1, strings?: number): number | null =>
    placeAt(readings, at, { strings, heading }).string;

  test('begins at the first string, or at the last for a hand that goes downward', () => {
    expect(stringOf([], 1, 6)).toBe(1);
    expect(stringOf([], -1, 6)).toBe(6);
  });

  test('resumes at the string left half read, else at the next', () => {
    expect(stringOf(read('1/12', '1/17', '2/12'), 1, 6)).toBe(2);
    expect(stringOf(read('1/12', '1/17'), 1, 6)).toBe(2);
    const other = read('4/12').map((one) => ({ ...one, instrument: 'J2' }));
    expect(stringOf([...read('1/12', '1/17'), ...other], 1, 6)).toBe(2);
  });
});

test('atString forgets what went with the string before, and remembers the direction', () => {
  const place = { ...placeAt([], { instrument: 'J1', model: 'M', pass: 0 }, { strings: 6, heading: 1 }), string: 6 };
  expect(atString({ ...place, open: '0.4', saddle: '1' }, 5)).toMatchObject({
    string: 5,
    heading: -1,
    open: undefined,
    saddle: undefined,
  });
  expect(atString({ ...place, open: '0.4' }, 6).open).toBe('0.4');
});
