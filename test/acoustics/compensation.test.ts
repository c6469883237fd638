import { expect, test } from 'vitest';
import { compensate } from '../../src/acoustics/compensation.ts';
import { frettedNote, type Setup } from '../../src/acoustics/fretting.ts';
import { equalPlacement } from '../../src/acoustics/placement.ts';
import { responseOfR, type StringResponse } from '../../src/acoustics/string-physics.ts';
import { publishedHeights, publishedScaleMm, publishedStrings } from './published-strings.ts';

const setup: Setup = {
  placement: equalPlacement(publishedScaleMm, 20),
  setbackMm: 0,
  nutSetbackMm: 0,
  ...publishedHeights,
};
const string: StringResponse = { tensionPerStretch: 60, stiffness: 0.003 };
const toTwelve = Array.from({ length: 12 }, (_, at) => at + 1);

// Setback tables of Anderson & Beausoleil, as printed: hundredths of a millimetre, thousandths of a cent. Their RMS divides by
// 13, the open string with its error of 0 among the notes; ours by the 12 frets, so theirs is ours times sqrt(12 / 13).
test.each(publishedStrings.map((one) => [`${one.set} ${one.string}`, one] as const))(
  'compensate finds the printed setbacks of %s, its RMS error and its curve',
  (_, published) => {
    const radiusMm = (published.diameterIn * 25.4) / 2;
    const response = responseOfR(published.r, { radiusMm, scaleMm: publishedScaleMm });
    const found = compensate(response, setup, { frets: toTwelve, set: 'saddle and nut' });
    expect(Math.abs(found.setbackMm - published.setbackMm)).toBeLessThanOrEqual(0.005);
    expect(Math.abs(found.nutSetbackMm - published.nutSetbackMm)).toBeLessThanOrEqual(0.005);
    expect(Math.abs(Math.sqrt(12 / 13) * found.rmsCents - published.rmsCents)).toBeLessThanOrEqual(0.0005);
    // Curves of the figures (vector data), quoted to four decimals.
    [1, 6, 12].forEach((fret, at) =>
      expect(Math.abs(found.errors[fret - 1]!.cents - published.compensated[at]!)).toBeLessThan(1.1e-4),
    );
  },
);

test.each([
  ['saddle', [12]],
  ['saddle', [17]],
  ['saddle and nut', [12, 17]],
  ['saddle and nut', [1, 12]],
] as const)('compensate by %s makes frets %j exact', (set, frets) => {
  const { setbackMm, nutSetbackMm, rmsCents, errors } = compensate(string, setup, { frets, set });
  expect(rmsCents).toBeLessThan(1e-9);
  expect(errors.map(({ fret }) => fret)).toEqual(frets);
  for (const fret of frets)
    expect(frettedNote(fret, string, { ...setup, setbackMm, nutSetbackMm }).total).toBeCloseTo(0, 9);
  if (set === 'saddle') expect(nutSetbackMm).toBe(0);
});

test('compensate leaves no smaller RMS error near by, with the saddle alone and with the nut', () => {
  for (const set of ['saddle', 'saddle and nut'] as const) {
    const found = compensate(string, setup, { frets: toTwelve, set });
    const rms = (setbackMm: number, nutSetbackMm: number): number =>
      Math.sqrt(
        toTwelve.reduce(
          (sum, fret) => sum + frettedNote(fret, string, { ...setup, setbackMm, nutSetbackMm }).total ** 2,
          0,
        ) / 12,
      );
    expect(rms(found.setbackMm, found.nutSetbackMm)).toBeCloseTo(found.rmsCents, 12);
    for (const [saddle, nut] of [
      [0.01, 0],
      [-0.01, 0],
      [0, 0.01],
      [0, -0.01],
    ] as const)
      if (nut === 0 || set === 'saddle and nut')
        expect(rms(found.setbackMm + saddle, found.nutSetbackMm + nut)).toBeGreaterThan(found.rmsCents);
  }
});

test('compensate ends at the same setbacks wherever the setup has them', () => {
  const from = { ...setup, setbackMm: -3, nutSetbackMm: 1 };
  const [near, far] = [setup, from].map((one) => compensate(string, one, { frets: toTwelve, set: 'saddle and nut' }));
  expect(far!.setbackMm).toBeCloseTo(near!.setbackMm, 8);
  expect(far!.nutSetbackMm).toBeCloseTo(near!.nutSetbackMm, 8);
});

test('compensate says so when no playable saddle and nut are found', () => {
  for (const [wild, set] of [
    [{ tensionPerStretch: 1e6, stiffness: 0.003 }, 'saddle'],
    [{ tensionPerStretch: 1e6, stiffness: 0.003 }, 'saddle and nut'],
    [{ tensionPerStretch: 60, stiffness: 0.3 }, 'saddle'],
    [{ tensionPerStretch: 60, stiffness: 0.3 }, 'saddle and nut'],
  ] as const)
    expect(() => compensate(wild, setup, { frets: [1, 20], set })).toThrow(
      new RangeError(
        `Found no place for ${set} that makes frets 1, 20 right; expected one within 32.5 mm of the scale length. Check the string and the heights`,
      ),
    );
});

test.each<[string, readonly number[], string]>([
  ['no fret', [], 'Cannot choose saddle and nut for frets none; expected 2 or more, each once, from fret 1'],
  ['one fret', [12], 'Cannot choose saddle and nut for frets 12; expected 2 or more, each once, from fret 1'],
  [
    'one fret twice',
    [12, 12],
    'Cannot choose saddle and nut for frets 12, 12; expected 2 or more, each once, from fret 1',
  ],
  [
    'the open string',
    [0, 12],
    'Cannot choose saddle and nut for frets 0, 12; expected 2 or more, each once, from fret 1',
  ],
])('compensate refuses %s for saddle and nut', (_, frets, message) => {
  expect(() => compensate(string, setup, { frets, set: 'saddle and nut' })).toThrow(new RangeError(message));
});
