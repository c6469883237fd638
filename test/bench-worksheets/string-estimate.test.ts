import { expect, test } from 'vitest';
import { expectString } from '../../src/bench/expectation.ts';
import { errorAt, estimateStrings, type StringEstimate } from '../../src/bench/string-estimate.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { uniformRandom } from '../../src/statistics/random.ts';
import { type BenchReading, readingsOf, readingSd, spread, standardOf } from './bench-standard.ts';
import { condition } from './gaussian.ts';

const kappa = 2 ** (17 / 12) - 1;
const g = (fret: number): number => 2 ** (fret / 12) - 1;
const u = (fret: number): number => Math.max(0, fret - 12) / 5;

const [rise, nut, share, riseError] = [3, 0.4, 0.6, 0.3];
const standard = standardOf([{ model: 'Larch', rises: [rise], nut, share, riseError }]);
const riseVariance = spread.instrumentRise ** 2 + spread.stringRise ** 2 + riseError ** 2;

function estimate(rows: readonly BenchReading[]): StringEstimate {
  const expectation = expectString(standard, 'Larch', 1)!;
  return estimateStrings(sumReadings(readingsOf(rows)), new Map([[1, expectation]]))[0]!;
}

/** The same by conditioning the joint normal of (N, R, s), the saddle's place with a standard deviation of 1000 cents. */
function conditioned(rows: readonly BenchReading[]): ReturnType<typeof condition> {
  const before = [
    [spread.stringNut ** 2, 0, 0],
    [0, riseVariance, 0],
    [0, 0, 1e6],
  ];
  return condition([nut, rise, 0], before, {
    h: rows.map(({ fret }) => [1, u(fret), g(fret)]),
    y: rows.map(({ cents }) => cents),
    noise: rows.map(({ resolutionCents = 0 }) => readingSd ** 2 + resolutionCents ** 2 / 12),
  });
}

// Normal theory in closed form: for t normal with variance V and T = t + e with error variance W, E[t | T] = m + V/(V+W) (T - m).
test('estimateStrings shrinks the rise of a 12th and a 17th to its conditional mean', () => {
  const before = rise + (1 - kappa) * nut;
  const variance = riseVariance + (1 - kappa) ** 2 * spread.stringNut ** 2;
  const noise = (1 + kappa ** 2) * readingSd ** 2;
  const reliability = variance / (variance + noise);
  const found = estimate([
    { fret: 12, cents: -1 },
    { fret: 17, cents: 5 },
  ]);
  const measured = 5 + kappa;
  expect(found.measured).toBeCloseTo(measured, 12);
  expect(found.expected).toBeCloseTo(before, 12);
  expect(found.reliability).toBeCloseTo(reliability, 10);
  expect(found.shrunk).toBeCloseTo(before + reliability * (measured - before), 10);
  expect(found.target).toBeCloseTo((-share * found.shrunk) / kappa, 12);
  expect(found.twelfth).toBe(-1);
  expect(found.usual).toBeCloseTo(1.96 * Math.sqrt(variance + noise), 10);
});

test.each([
  ['12th alone', [12]],
  ['17th alone', [17]],
  ['both', [12, 17]],
  ['low frets too', [1, 3, 5, 12, 17]],
  ['many frets', [1, 3, 5, 7, 9, 12, 14, 15, 17, 19, 21]],
  ['no 12th', [5, 17, 19]],
])('estimateStrings gives the conditional mean and covariance of nut and rise: %s', (_, frets) => {
  const uniform = uniformRandom(frets.length);
  const rows = frets.map((fret) => ({ fret, cents: 8 * uniform() - 4 }));
  const found = estimate(rows);
  const { mean, covariance } = conditioned(rows);
  // The saddle's place is not quite unknown to `conditioned`: a part in 10^5 at the most.
  expect(found.nut).toBeCloseTo(mean[0]!, 4);
  expect(found.rise).toBeCloseTo(mean[1]!, 4);
  expect(found.nutVariance).toBeCloseTo(covariance[0]![0]!, 4);
  expect(found.riseVariance).toBeCloseTo(covariance[1]![1]!, 4);
  expect(found.covariance).toBeCloseTo(covariance[0]![1]!, 4);
});

test('errorAt gives the spread of the error along the neck that the joint normal has', () => {
  for (const frets of [[12, 17], [5, 12, 17], [17]]) {
    const rows = frets.map((fret) => ({ fret, cents: 1 + fret / 10 }));
    const found = estimate(rows);
    const { mean, covariance } = conditioned(rows);
    for (const fret of [1, 7, 12, 15, 17, 22]) {
      const x = [1, u(fret), g(fret)];
      const variance = x.reduce(
        (sum, a, i) => sum + x.reduce((inner, b, j) => inner + a * b * covariance[i]![j]!, 0),
        0,
      );
      // Where the 12th reads what the joint normal makes of it, its mean is that of the joint normal too.
      const twelfth = mean[0]! + mean[2]!;
      const error = errorAt(fret, twelfth, found);
      expect(error.mean).toBeCloseTo(
        x.reduce((sum, a, i) => sum + a * mean[i]!, 0),
        3,
      );
      expect(error.sd).toBeCloseTo(Math.sqrt(variance), 3);
    }
  }
});

test('estimateStrings counts repeats and a coarse display', () => {
  const twice = estimate([
    { fret: 12, cents: 0 },
    { fret: 12, cents: 2 },
    { fret: 17, cents: 4 },
    { fret: 17, cents: 6 },
  ]);
  expect([twice.read12, twice.read17]).toEqual([1, 5]);
  const once = estimate([
    { fret: 12, cents: 1 },
    { fret: 17, cents: 5 },
  ]);
  // Two readings halve the variance of their mean.
  const odds = ({ reliability }: StringEstimate): number => reliability / (1 - reliability);
  expect(odds(twice) / odds(once)).toBeCloseTo(2, 9);
  const coarse = estimate([
    { fret: 12, cents: 1, resolutionCents: 1 },
    { fret: 17, cents: 5, resolutionCents: 1 },
  ]);
  expect(odds(once) / odds(coarse)).toBeCloseTo((readingSd ** 2 + 1 / 12) / readingSd ** 2, 9);
  // 1.96 standard deviations of one reading, rounding to a whole cent (variance 1/12) with it.
  expect(coarse.window).toBeCloseTo(1.96 * Math.sqrt(readingSd ** 2 + 1 / 12), 12);
});

test('estimateStrings lets the expected rise stand in where the 12th or the 17th is missing', () => {
  const expected = rise + (1 - kappa) * nut;
  const twelfth = estimate([{ fret: 12, cents: 2 }]);
  expect(twelfth).toMatchObject({ read12: 2, read17: null, measured: null, twelfth: 2, reliability: 0 });
  expect(twelfth.shrunk).toBeCloseTo(expected, 12);
  const seventeenth = estimate([{ fret: 17, cents: 2 }]);
  expect(seventeenth).toMatchObject({ read12: null, read17: 2, measured: null });
  expect(seventeenth.twelfth).toBeCloseTo((2 - expected) / kappa, 12);
  // The 12th is then known less well than a reading would tell it.
  expect(seventeenth.window).toBeGreaterThan(twelfth.window);
  expect(estimate([{ fret: 5, cents: 2 }]).twelfth).toBeNull();
});

test('expectString falls back on the mean of the models, and is less sure by their spread', () => {
  const three = standardOf([
    { model: 'A', rises: [1, 2], nut: 0.2, share: 0.4 },
    { model: 'B', rises: [3], nut: 0.4, share: 0.5 },
    { model: 'C', rises: [5], nut: 0.6, share: 0.9 },
  ]);
  const strange = expectString(three, 'unknown', 1)!;
  expect(strange.from).toBe('shop');
  expect(strange.rise).toBeCloseTo(3, 12);
  expect(strange.nut).toBeCloseTo(0.4, 12);
  expect(strange.share).toBeCloseTo(0.6, 12);
  // The next model about the mean of three: variance 4 of the rises (1, 3, 5) times 1 + 1/3; spread within on top.
  expect(strange.riseSd ** 2).toBeCloseTo((4 * 4) / 3 + spread.instrumentRise ** 2 + spread.stringRise ** 2, 9);
  expect(strange.nutSd ** 2).toBeCloseTo((0.04 * 4) / 3 + spread.stringNut ** 2, 9);
  expect(expectString(three, 'A', 2)).toMatchObject({ from: 'model', rise: 2 });
  expect(expectString(three, 'B', 2)).toMatchObject({ from: 'shop', rise: 2 });
  expect(expectString(three, 'B', 3)).toBeUndefined();
});
