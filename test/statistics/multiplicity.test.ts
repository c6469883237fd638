import { expect, test } from 'vitest';
import { holm, judgeTogether, sidak, type Family } from '../../src/statistics/multiplicity.ts';
import { twoSidedP } from '../../src/statistics/distributions.ts';

/** All differences between k independent means of unit standard error, with the estimates given. */
function allPairs(means: readonly number[], df: number): Family {
  const pairs = means.flatMap((_, i) => means.slice(i + 1).map((_other, j) => [i, i + 1 + j] as const));
  const standardError = Math.SQRT2;
  return {
    estimates: pairs.map(([i, j]) => {
      const estimate = means[i]! - means[j]!;
      return { label: `${i} - ${j}`, estimate, standardError, df, p: twoSidedP(estimate / standardError, df) };
    }),
    covariance: pairs.map(([i, j]) =>
      pairs.map(([k, l]) => (i === k ? 1 : 0) - (i === l ? 1 : 0) - (j === k ? 1 : 0) + (j === l ? 1 : 0)),
    ),
  };
}

// R 4.2.2: p.adjust(c(.01, .04, .03, .5), "holm").
test('holm steps down through the ordered p values', () => {
  expect(holm([0.01, 0.04, 0.03, 0.5])).toEqual([0.04, 0.09, 0.09, 0.5]);
});

// By definition: 1 - 0.95^3 = 0.142625.
test('sidak gives the chance that one of independent p values is as small', () => {
  expect(sidak([0.05, 0.2, 0.9])[0]).toBeCloseTo(0.142625, 12);
});

// Studentized range, R 4.2.2: qtukey(0.95, 3, 10) / sqrt(2), qtukey(0.95, 5, 20) / sqrt(2). The tolerance is three
// standard errors of 400,000 draws.
test.each([
  [3, 10, 2.741295128],
  [5, 20, 2.992374558],
])(
  'judgeTogether with single-step over all pairs of %i means has the width of Tukey on %i df',
  (means, df, critical) => {
    const family = allPairs(
      Array.from({ length: means }, (_, k) => k),
      df,
    );
    const [first] = judgeTogether(family, { method: 'single-step', draws: 400_000 });
    expect(Math.abs((first!.high - first!.estimate) / first!.standardError - critical)).toBeLessThan(0.01);
  },
);

// R 4.2.2: 1 - ptukey(2.5 * sqrt(2), 4, 15).
test('judgeTogether with single-step has the p value of the studentized range', () => {
  const family = allPairs([0, 2.5 * Math.SQRT2, 0, 0], 15);
  const judged = judgeTogether(family, { method: 'single-step', draws: 400_000 });
  expect(Math.abs(judged[0]!.adjustedP - 0.10054725)).toBeLessThan(0.0015);
});

// Dunnett CW (1964), Biometrics 20, 482-491, table II: two-sided 5 %, 2 treatments, 10 df: 2.57 (from memory).
test('judgeTogether with single-step against a control has the width of Dunnett', () => {
  const family: Family = {
    estimates: [1, 2].map((estimate) => ({ label: 'a', estimate, standardError: Math.SQRT2, df: 10, p: 0.5 })),
    covariance: [
      [2, 1],
      [1, 2],
    ],
  };
  const [first] = judgeTogether(family, { method: 'single-step', draws: 400_000 });
  expect(Math.abs((first!.high - first!.estimate) / first!.standardError - 2.57)).toBeLessThan(0.012);
});

test('judgeTogether keeps the order p <= single-step <= Sidak for correlated estimates', () => {
  const family = allPairs([0, 1.5, 3], 12);
  const single = judgeTogether(family, { method: 'single-step' });
  const independent = judgeTogether(family, { method: 'sidak' });
  single.forEach(({ p, adjustedP }, k) => {
    expect(adjustedP).toBeGreaterThanOrEqual(p);
    expect(adjustedP).toBeLessThanOrEqual(independent[k]!.adjustedP + 0.002);
  });
});

test('judgeTogether is the same for the same seed', () => {
  const family = allPairs([0, 1, 2], 8);
  const options = { method: 'single-step', seed: 5, draws: 1000 } as const;
  expect(judgeTogether(family, options)).toEqual(judgeTogether(family, options));
});

test('judgeTogether refuses an empty family', () => {
  expect(() => judgeTogether({ estimates: [], covariance: [] }, { method: 'holm' })).toThrow(
    new RangeError('Cannot judge an empty family of estimates; expected at least 1'),
  );
});
