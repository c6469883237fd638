import { describe, expect, test } from 'vitest';
import { normalRandom } from '../../src/statistics/random.ts';
import { pairedDifference, stratifiedDifference } from '../../src/statistics/two-sample.ts';

// Data set sleep of R's package datasets (Student 1908, Biometrika 6, 1): extra hours of sleep with two drugs.
const drug1 = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
const drug2 = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

describe('stratifiedDifference', () => {
  // R 4.2.2: t.test(extra ~ group, data = sleep), with ten digits; R takes group 1 less group 2.
  test('is Welch’s two-sample t with one block', () => {
    const found = stratifiedDifference([{ before: drug1, after: drug2 }])!;
    expect(found.t).toBeCloseTo(1.860813467, 9);
    expect(found.df).toBeCloseTo(17.77647352, 7);
    expect(found.p).toBeCloseTo(0.07939414019, 9);
    expect(found.low).toBeCloseTo(-0.2054832307, 8);
    expect(found.high).toBeCloseTo(3.3654832307, 8);
    expect([found.meanBefore, found.meanAfter]).toEqual([expect.closeTo(0.75, 12), expect.closeTo(2.33, 12)]);
  });

  // R 4.2.2, its data set warpbreaks made unbalanced: w <- warpbreaks[-c(1:5, 12, 30, 31), ];
  // coef(lm(breaks ~ tension + wool, data = w)) gives woolB -4.69258118. Before is wool A, after wool B; blocks are the tensions.
  const tensions = [
    { before: [52, 51, 26, 67], after: [27, 14, 29, 31, 41, 20, 44] },
    { before: [18, 21, 17, 12, 18, 35, 30, 36], after: [42, 26, 19, 16, 39, 28, 21, 39, 29] },
    { before: [36, 21, 24, 18, 10, 43, 28, 15, 26], after: [20, 21, 24, 17, 13, 15, 15, 16, 28] },
  ];
  test('weighs blocks as the additive model with fixed blocks does', () => {
    const found = stratifiedDifference(tensions)!;
    expect(found.estimate).toBeCloseTo(-4.69258118, 8);
    expect(found.meanAfter - found.meanBefore).toBeCloseTo(found.estimate, 12);
  });

  test('leaves out blocks without values on both sides', () => {
    expect(stratifiedDifference([...tensions, { before: [900], after: [] }, { before: [], after: [800, 1] }])).toEqual(
      stratifiedDifference(tensions),
    );
  });

  test('gives no interval where a side has no two values of one block, or nothing scatters', () => {
    expect(stratifiedDifference([])).toBeNull();
    expect(stratifiedDifference([{ before: [1, 2], after: [] }])).toBeNull();
    expect(
      stratifiedDifference([
        { before: [1], after: [2, 3] },
        { before: [4], after: [2, 5] },
      ]),
    ).toBeNull();
    expect(stratifiedDifference([{ before: [2, 2, 2], after: [1, 1] }])).toBeNull();
  });

  // Seeded simulation from known truth: 4 000 pairs of samples in three blocks, 20 before and 12 after, of which the few scatter
  // three times as much; the share of 95 % intervals that hold the truth is 0.95 within 3 binomial standard errors (0.0103).
  test('holds the truth in 95 of 100 intervals, though the sides scatter unlike and are unlike in number', () => {
    const normal = normalRandom(20);
    const sizes = [
      [4, 6],
      [12, 2],
      [4, 4],
    ] as const;
    let held = 0;
    for (let time = 0; time < 4000; time++) {
      const draw = (count: number, mean: number, sd: number): number[] =>
        Array.from({ length: count }, () => mean + sd * normal());
      const found = stratifiedDifference(
        sizes.map(([b, a], block) => ({ before: draw(b, 3 * block, 0.5), after: draw(a, 3 * block - 1, 1.5) })),
      )!;
      if (found.low <= -1 && -1 <= found.high) held++;
    }
    expect(Math.abs(held / 4000 - 0.95)).toBeLessThan(0.0103);
  });

  // What is beyond a threshold is mostly 0: means of 12 values max(0, |e| - 3), e normal with a part in common. From 8 and 8 such
  // means the 95 % intervals hold the truth (means of 200 000) less often than they say; src/control/adoption.ts tells the reader.
  test('holds the truth in about 91 of 100 intervals where values are lopsided and few', () => {
    const normal = normalRandom(5);
    const draw = (sd: number): number => {
      const common = 0.5 * sd * normal();
      const beyond = Array.from({ length: 12 }, () => Math.max(0, Math.abs(common + sd * normal()) - 3));
      return beyond.reduce((sum, value) => sum + value, 0) / 12;
    };
    const draws = (count: number, sd: number): number[] => Array.from({ length: count }, () => draw(sd));
    const mean = (sd: number): number => draws(200_000, sd).reduce((sum, value) => sum + value, 0) / 200_000;
    const truth = mean(1.2) - mean(2);
    let held = 0;
    for (let time = 0; time < 4000; time++) {
      const { low, high } = stratifiedDifference([0, 1].map(() => ({ before: draws(4, 2), after: draws(4, 1.2) })))!;
      if (low <= truth && truth <= high) held++;
    }
    expect(held / 4000).toBeGreaterThan(0.89);
    expect(held / 4000).toBeLessThan(0.95);
  });
});

describe('pairedDifference', () => {
  // R 4.2.2: with(sleep, t.test(extra[group == 1], extra[group == 2], paired = TRUE)), with ten digits.
  test('is Student’s paired t', () => {
    const found = pairedDifference(drug1.map((hours, at) => [hours, drug2[at]!]))!;
    expect(found.t).toBeCloseTo(4.062127683, 9);
    expect(found.df).toBe(9);
    expect(found.p).toBeCloseTo(0.002832890197, 11);
    expect(found.low).toBeCloseTo(0.7001142367, 9);
    expect(found.high).toBeCloseTo(2.4598857633, 9);
  });

  test('gives no interval for one pair, or for differences without scatter', () => {
    expect(pairedDifference([[1, 2]])).toBeNull();
    expect(
      pairedDifference([
        [1, 2],
        [3, 4],
      ]),
    ).toBeNull();
  });
});
