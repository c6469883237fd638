import { expect, test } from 'vitest';
import {
  exceedance,
  expectedCost,
  expectedExcess,
  expectedMagnitude,
  expectedSquare,
  lossNamed,
} from '../../src/policy/loss.ts';

/** Independent of the closed forms: Simpson's rule over mean +- 12 sd. */
function integrate(f: (e: number) => number, mean: number, sd: number): number {
  const steps = 20_000;
  const [low, width] = [mean - 12 * sd, (24 * sd) / steps];
  let sum = 0;
  for (let step = 0; step <= steps; step++) {
    const e = low + step * width;
    const weight = step === 0 || step === steps ? 1 : step % 2 === 1 ? 4 : 2;
    sum += weight * f(e) * Math.exp(-(((e - mean) / sd) ** 2) / 2);
  }
  return (sum * width) / 3 / (sd * Math.sqrt(2 * Math.PI));
}

const cases = [
  { mean: 0, sd: 1 },
  { mean: 2.4, sd: 0.8 },
  { mean: -5, sd: 2 },
  { mean: 0.1, sd: 4 },
];

test.each(cases)('expectedSquare agrees with numeric integration at $mean, $sd', (error) => {
  expect(expectedSquare(error)).toBeCloseTo(
    integrate((e) => e * e, error.mean, error.sd),
    8,
  );
});

test.each(cases)('expectedExcess agrees with numeric integration at $mean, $sd', (error) => {
  for (const threshold of [0, 1, 3])
    expect(expectedExcess(error, threshold)).toBeCloseTo(
      integrate((e) => Math.max(0, Math.abs(e) - threshold) ** 2, error.mean, error.sd),
      5,
    );
});

test.each(cases)('expectedMagnitude agrees with numeric integration at $mean, $sd', (error) => {
  expect(expectedMagnitude(error)).toBeCloseTo(integrate(Math.abs, error.mean, error.sd), 5);
});

// Standard normal: P(|Z| > 1.959964) = 0.05 (table of the normal distribution, from memory).
test('exceedance of a standard normal is 5 % at 1.96', () => {
  expect(exceedance({ mean: 0, sd: 1 }, 1.959964)).toBeCloseTo(0.05, 7);
});

test('expectedExcess without spread is the excess itself', () => {
  expect(expectedExcess({ mean: -5, sd: 0 }, 3)).toBe(4);
  expect(expectedExcess({ mean: 2, sd: 0 }, 3)).toBe(0);
});

test('expectedCost is a root mean square, an excess of it, or the worst fret in use', () => {
  const errors = [
    { mean: 3, sd: 0 },
    { mean: -4, sd: 0 },
    { mean: 9, sd: 0 },
  ];
  const weights = [0.5, 0.5, 0];
  expect(expectedCost(errors, weights, { kind: 'squared' })).toBeCloseTo(Math.sqrt(12.5), 12);
  expect(expectedCost(errors, weights, { kind: 'audible', thresholdCents: 3 })).toBeCloseTo(Math.sqrt(0.5), 12);
  expect(expectedCost(errors, weights, { kind: 'minimax' })).toBe(4);
});

test('lossNamed gives the loss of a name, and refuses others whole', () => {
  expect(lossNamed('audible', 2.5)).toEqual({ kind: 'audible', thresholdCents: 2.5 });
  expect(lossNamed('minimax', 3)).toEqual({ kind: 'minimax' });
  expect(() => lossNamed('loudest', 3)).toThrow('found loss "loudest", expected audible, squared or minimax');
  for (const cents of [-1, NaN, 101])
    expect(() => lossNamed('audible', cents)).toThrow(
      `found an audible threshold of ${cents} cents, expected a number from 0 to 100`,
    );
});
