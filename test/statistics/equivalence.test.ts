import { expect, test } from 'vitest';
import { tCdf } from '../../src/statistics/distributions.ts';
import { testEquivalence } from '../../src/statistics/equivalence.ts';
import { powerOfDifference, powerOfEquivalence } from '../../src/statistics/test-power.ts';

// Lakens (2017), "Equivalence tests: a practical primer", Social Psychological and Personality Science 8, 355-362, and the
// documentation of the R package TOSTER: groups of 95 (mean 5.25, sd 0.95) and 89 (5.22, 0.83), bounds of +-0.43 pooled standard
// deviations: t(182) = -2.69, p = 0.004. The 182 are 95 + 89 - 2: variances were pooled.
test("testEquivalence agrees with the published example of Lakens's primer", () => {
  const pooled = Math.sqrt((94 * 0.95 ** 2 + 88 * 0.83 ** 2) / 182);
  const standardError = pooled * Math.sqrt(1 / 95 + 1 / 89);
  const found = testEquivalence({ estimate: 5.25 - 5.22, standardError, df: 182 }, 0.43 * pooled);
  expect(found.upper.t).toBeCloseTo(-2.69, 2);
  expect(found.p).toBe(found.upper.p);
  expect(found.p).toBeCloseTo(0.004, 3);
});

// R 4.2.2 on the same groups by Welch's test, bounds of +-0.384: pt((0.03 - 0.384) / se, df) = 0.00383899428.
test('testEquivalence agrees with R on degrees of freedom that are not whole', () => {
  const found = testEquivalence({ estimate: 0.03, standardError: 0.13130289196, df: 181.13436716051 }, 0.384);
  expect(found.upper.t).toBeCloseTo(-2.6960563831, 8);
  expect(found.p).toBeCloseTo(0.00383899428, 9);
});

// An identity, Schuirmann (1987): two one-sided tests at alpha reject exactly where the 1 - 2 alpha interval is in the margin.
test('testEquivalence finds p under alpha exactly where the 90 % interval lies within the margin', () => {
  for (const df of [3, 20, Infinity])
    for (let at = -60; at <= 60; at++) {
      const { p, low, high } = testEquivalence({ estimate: at / 20, standardError: 0.7, df }, 2);
      expect(p < 0.05).toBe(low > -2 && high < 2);
    }
});

test('testEquivalence takes the worse of the two one-sided tests, whichever side the estimate is on', () => {
  const right = testEquivalence({ estimate: 1, standardError: 0.5, df: 12 }, 2);
  const left = testEquivalence({ estimate: -1, standardError: 0.5, df: 12 }, 2);
  expect(right.p).toBeCloseTo(tCdf(-2, 12), 14);
  expect(left.p).toBeCloseTo(right.p, 14);
  expect(left.lower.p).toBeGreaterThan(left.upper.p);
});

test.each([0, -3, NaN, Infinity])('testEquivalence refuses a margin of %s', (margin) => {
  expect(() => testEquivalence({ estimate: 0, standardError: 1, df: 5 }, margin)).toThrow(
    `Cannot call groups alike within a margin of ${margin}; expected a number above 0, the largest difference that does not matter`,
  );
});

test('testEquivalence refuses an estimate without error', () => {
  expect(() => testEquivalence({ estimate: 0, standardError: 0, df: 5 }, 1)).toThrow(
    'Cannot test equivalence with a standard error of 0; expected more than 0',
  );
});

// R 4.2.2, power.t.test(n, delta, sd = 1, strict = TRUE): 0.868953028 for n = 20, delta = 1 (R's documentation has this case),
// 0.386437261 for n = 5, delta = 1.2.
test.each([
  [20, 1, 0.868953028],
  [5, 1.2, 0.386437261],
])("powerOfDifference agrees with R's power.t.test for %i a group and a difference of %d", (n, difference, power) => {
  const design = { difference, standardError: Math.sqrt(2 / n), df: 2 * (n - 1) };
  expect(powerOfDifference(design)).toBeCloseTo(power, 5);
});

// An identity: without a difference the power of a test is its level.
test('powerOfDifference is the level of the test where there is no difference', () => {
  for (const df of [2, 18, Infinity])
    expect(powerOfDifference({ difference: 0, standardError: 1, df })).toBeCloseTo(0.05, 4);
});

// R 4.2.2, integrate() over the quantiles of s of Phillips's (1990) formula, n = 12 a group, sd 1, margin 1.
test.each([
  [0, 0.533708886],
  [0.3, 0.431796591],
])("powerOfEquivalence agrees with R's integral for a true difference of %d", (difference, power) => {
  const design = { difference, standardError: Math.sqrt(2 / 12), df: 22 };
  expect(powerOfEquivalence(design, 1)).toBeCloseTo(power, 4);
});

// With many degrees of freedom and a precise estimate only one bound is near: at the bound TOST rejects with its level.
test('powerOfEquivalence is the level of the test where the difference is the margin', () => {
  expect(powerOfEquivalence({ difference: 1, standardError: 0.1, df: 40 }, 1)).toBeCloseTo(0.05, 4);
});
