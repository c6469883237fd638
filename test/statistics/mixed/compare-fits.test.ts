import { describe, expect, test } from 'vitest';
import { compareFits } from '../../../src/statistics/mixed/compare-fits.ts';
import type { MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';
import { testJointly } from '../../../src/statistics/mixed/joint-test.ts';
import { referenceColumns } from '../reference-data.ts';

const sleep = referenceColumns('sleepstudy');
const slopes = (covariance: 'correlated' | 'independent'): MixedDescription => ({
  response: 'Reaction',
  fixed: [{ numeric: 'Days' }],
  random: [{ group: ['Subject'], effects: ['1', 'Days'], covariance }],
});

describe('compareFits', () => {
  // Bates, Maechler, Bolker & Walker (2015), J. Stat. Softw. 67(1), section 3.3: Chisq 0.0639 on 1 df, p 0.8004.
  test('agrees with the printed test of the sleepstudy correlation', () => {
    const small = fitMixed(sleep, slopes('independent'), { method: 'ML' });
    const large = fitMixed(sleep, slopes('correlated'), { method: 'ML' });
    const { statistic, df, p } = compareFits(small, large);
    expect(statistic).toBeCloseTo(0.0639, 4);
    expect(df).toBe(1);
    expect(p).toBeCloseTo(0.8004, 4);
  });

  test('halves p for one variance at its boundary', () => {
    const small = fitMixed(sleep, { ...slopes('independent'), random: [{ group: ['Subject'], effects: ['1'] }] });
    const large = fitMixed(sleep, slopes('independent'));
    const { p, boundaryP } = compareFits(small, large);
    expect(boundaryP).toBe(p / 2);
  });

  test('refuses what cannot be compared', () => {
    const reml = fitMixed(sleep, slopes('correlated'));
    const ml = fitMixed(sleep, slopes('correlated'), { method: 'ML' });
    const constant = fitMixed(sleep, { ...slopes('independent'), fixed: [] });
    expect(() => compareFits(reml, ml)).toThrow(
      new RangeError('Cannot compare a fit by REML with one by ML; expected one method'),
    );
    expect(() => compareFits(constant, reml)).toThrow(
      new RangeError(
        'Cannot compare REML fits with different fixed effects ((Intercept) and (Intercept), Days); fit both by ML',
      ),
    );
    expect(() => compareFits(ml, ml)).toThrow(
      new RangeError('Cannot compare: the second model has 0 parameters more; expected at least 1'),
    );
  });
});

// lmerTest 3.1-3 anova of Oats by REML (tightened optimiser): Variety F 1.48534038042236 on 2 and 10.0000000096044 df,
// p 0.272386856487491; nitro F 118.003008677007 on 1 and 52.9999999971975 df.
test('testJointly agrees with the reference F tests of Oats', () => {
  const fit = fitMixed(referenceColumns('oats'), {
    response: 'yield',
    fixed: [{ numeric: 'nitro' }, { categorical: 'Variety' }],
    random: [
      { group: ['Block'], effects: ['1'] },
      { group: ['Variety', 'Block'], effects: ['1'] },
    ],
  });
  const variety = testJointly(fit, [{ fixed: { 'Variety[Marvellous]': 1 } }, { fixed: { 'Variety[Victory]': 1 } }]);
  expect(variety.f).toBeCloseTo(1.48534038042236, 8);
  expect(variety.df1).toBe(2);
  expect(variety.df2).toBeCloseTo(10, 4);
  expect(variety.p).toBeCloseTo(0.272386856487491, 6);
  const nitro = testJointly(fit, [{ fixed: { nitro: 1 } }]);
  expect(nitro.f).toBeCloseTo(118.003008677007, 6);
  expect(nitro.df2).toBeCloseTo(53, 3);
});
