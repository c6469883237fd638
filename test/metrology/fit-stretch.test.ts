import { expect, test } from 'vitest';
import { fitStretch } from '../../src/metrology/fit-stretch.ts';
import { publishedStretches } from './published-stretch.ts';

// The workbook does not say what length its strings were stretched over. 613.518 mm, a 650 mm string stopped at its first fret,
// gives all 36 values of R in the table to the digits quoted, with the pitch of the open string: one length for 36 numbers.
const at = (hz: number): { lengthMm: number; hz: number } => ({ lengthMm: 650 * 2 ** (-1 / 12), hz });
const named = publishedStretches.map((one) => [`${one.set} ${one.string}`, one] as const);

test.each(named)('fitStretch finds the published R of %s', (_, published) => {
  const { r } = fitStretch(published.readings, at(published.hz));
  expect(r.estimate / published.r).toBeCloseTo(1, 6);
});

// Property table: sigma of R, the standard error by residuals; of nylon-normal, read several times, weighted by 1 / sd^2.
test.each(named)('fitStretch finds the published standard error of R of %s', (_, published) => {
  const { r } = fitStretch(published.readings, at(published.hz));
  expect(r.standardError / published.rStandardError).toBeCloseTo(1, 5);
});

// By hand: 200 Hz and 10 Hz a mm over 600 mm make R = 10 * 600 / 200 = 30.
test('fitStretch of readings on a line is the line', () => {
  const readings = [0, 1, 2].map((addedMm) => ({ addedMm, hz: 200 + 10 * addedMm }));
  const { r, hzPerMm } = fitStretch(readings, { lengthMm: 600, hz: 200 });
  expect(hzPerMm.estimate).toBeCloseTo(10, 10);
  expect(r.estimate).toBeCloseTo(30, 10);
  expect(r.term).toBe('R');
});

test.each<[string, readonly { addedMm: number; hz: number; sdHz?: number }[], number, string]>([
  [
    'two readings',
    [
      { addedMm: 0, hz: 200 },
      { addedMm: 1, hz: 210 },
    ],
    600,
    'Cannot fit stretch to 2 readings at 2 lengths; expected 3 or more at 2 or more',
  ],
  [
    'readings at one length',
    [1, 2, 3].map((more) => ({ addedMm: 1, hz: 200 + more })),
    600,
    'Cannot fit stretch to 3 readings at 1 lengths; expected 3 or more at 2 or more',
  ],
  [
    'a frequency of zero',
    [0, 1, 2].map((addedMm) => ({ addedMm, hz: 100 * addedMm })),
    600,
    'Cannot fit stretch with a frequency in hertz of 0; expected a number above 0',
  ],
  [
    'a length of zero',
    [0, 1, 2].map((addedMm) => ({ addedMm, hz: 200 })),
    0,
    'Cannot fit stretch with a length in mm of 0; expected a number above 0',
  ],
  [
    'standard deviations for some readings',
    [0, 1, 2].map((addedMm) => ({ addedMm, hz: 200 + addedMm, ...(addedMm === 0 ? { sdHz: 0.3 } : {}) })),
    600,
    'Cannot fit stretch to 3 readings, 1 of them with a standard deviation; expected all or none',
  ],
  ...[0, -0.3, NaN].map((sdHz): [string, { addedMm: number; hz: number; sdHz: number }[], number, string] => [
    `a standard deviation of ${sdHz}`,
    [0, 1, 2].map((addedMm) => ({ addedMm, hz: 200 + addedMm, sdHz })),
    600,
    `Cannot fit stretch with a standard deviation in hertz of ${sdHz}; expected a number above 0`,
  ]),
])('fitStretch refuses %s', (_, readings, lengthMm, message) => {
  expect(() => fitStretch(readings, { lengthMm, hz: 200 })).toThrow(new RangeError(message));
});
