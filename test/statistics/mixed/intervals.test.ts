import { describe, expect, test } from 'vitest';
import { bootstrapIntervals } from '../../../src/statistics/mixed/bootstrap-intervals.ts';
import type { MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { profileIntervals, type ParameterInterval } from '../../../src/statistics/mixed/profile-intervals.ts';
import { referenceColumns, referenceJson, relativeError } from '../reference-data.ts';

const sleepstudy: MixedDescription = {
  response: 'Reaction',
  fixed: [{ numeric: 'Days' }],
  random: [{ group: ['Subject'], effects: ['1', 'Days'] }],
};
const dyestuff: MixedDescription = { response: 'Yield', fixed: [], random: [{ group: ['Batch'], effects: ['1'] }] };

function named({ kind, of }: ParameterInterval): string {
  return [kind, ...of].join(' ');
}

describe('profileIntervals', () => {
  const { limits } = referenceJson('profile-intervals') as { limits: Record<string, [number, number]> };
  const expected: Record<string, Record<string, string>> = {
    sleepstudy: {
      'standard deviation 1': 'sleepstudy sd_int',
      'standard deviation Days': 'sleepstudy sd_slope',
      'correlation 1 Days': 'sleepstudy cor',
      sigma: 'sleepstudy sigma',
      'fixed (Intercept)': 'sleepstudy (Intercept)',
      'fixed Days': 'sleepstudy Days',
    },
    dyestuff: {
      'standard deviation 1': 'Dyestuff sd_batch',
      sigma: 'Dyestuff sigma',
      'fixed (Intercept)': 'Dyestuff (Intercept)',
    },
  };

  // data/reference/profile-intervals.source.md; the reference itself has 6 to 7 digits.
  test.each([
    ['sleepstudy', sleepstudy],
    ['dyestuff', dyestuff],
  ])('agrees with the limits found by direct root finding for %s', (name, description) => {
    const intervals = profileIntervals(referenceColumns(name), description);
    expect(intervals.map(named).sort()).toEqual(Object.keys(expected[name]!).sort());
    for (const interval of intervals) {
      const [low, high] = limits[expected[name]![named(interval)]!]!;
      expect(relativeError(interval.low, low)).toBeLessThan(1e-6);
      expect(relativeError(interval.high, high)).toBeLessThan(1e-6);
    }
  });

  // R 4.2.2, lme4 1.1-31: confint of Dyestuff2 by ML, .sig01 0 to 2.084; its spline has 3 to 4 digits.
  test('ends at exactly 0 where a variance of 0 is not rejected', () => {
    const [deviation] = profileIntervals(referenceColumns('dyestuff2'), dyestuff);
    expect(deviation!.low).toBe(0);
    expect(deviation!.high).toBeCloseTo(2.084, 3);
  });
});

describe('bootstrapIntervals', () => {
  const columns = referenceColumns('dyestuff');

  // One-way balanced layout, Davies & Goldsmith (1972), section 6.4: (n - 1) s^2 / sigma^2 is chi-squared on 24 df, so the
  // percentiles of sigma are 49.51 sqrt(chi2 / 24) with chi2 = 12.401 and 39.364 (R 4.2.2: qchisq). The other case, an estimated
  // variance of 0, mixes in the pooled estimate and moves the limits by about 1.
  test('has about the percentiles that chi-squared gives sigma', () => {
    const { intervals, notConverged } = bootstrapIntervals(columns, dyestuff, { seed: 1, replicates: 400 });
    expect(notConverged).toBe(0);
    const sigma = intervals.find(({ kind }) => kind === 'sigma')!;
    expect(Math.abs(sigma.low - 49.51 * Math.sqrt(12.401 / 24))).toBeLessThan(2.5);
    expect(Math.abs(sigma.high - 49.51 * Math.sqrt(39.364 / 24))).toBeLessThan(2.5);
    // The batch variance is estimated as 0 in a share pf(1 / 4.598, 5, 24) = 0.048 of samples, so the interval reaches 0.
    expect(intervals[0]!.low).toBe(0);
  });

  test('is the same for the same seed and differs for another', () => {
    const run = (seed: number): number =>
      bootstrapIntervals(columns, dyestuff, { seed, replicates: 20 }).intervals[0]!.high;
    expect(run(3)).toBe(run(3));
    expect(run(3)).not.toBe(run(4));
  });
});
