import { describe, expect, test } from 'vitest';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';
import { normalRandom } from '../../../src/statistics/random.ts';
import { referenceColumns } from '../reference-data.ts';

// Eight groups of five readings, x = 0 ... 4, simulated with slopes proportional to intercepts.
const y = [
  [11.79, 11.56, 11.58, 10.49, 13.63],
  [5.5, 8.18, 10.87, 10.29, 13.44],
  [13.03, 12.99, 10.36, 11.4, 10.31],
  [14.75, 15.98, 14.31, 12.92, 10.63],
  [8.51, 7.86, 10.95, 11.08, 12.48],
  [12.42, 11.32, 11.07, 11.88, 11.72],
  [10.43, 11.42, 10.99, 11.72, 12.61],
  [6.55, 8.36, 10.14, 9.95, 12.85],
];
const opposed = {
  y: y.flat(),
  x: y.flatMap((row) => row.map((_, i) => i)),
  g: y.flatMap((row, k) => row.map(() => k)),
};

describe('fitMixed on the boundary', () => {
  // R 4.2.2, lme4 1.1-31, bobyqa to 1e-12: lmer(y ~ x + (x | g)), singular; lmerTest 3.1-3 for df.
  test('finds a correlation of exactly -1, as lme4 does, and says so', () => {
    const fit = fitMixed(opposed, {
      response: 'y',
      fixed: [{ numeric: 'x' }],
      random: [{ group: ['g'], effects: ['1', 'x'] }],
    });
    expect(fit.criterion).toBeCloseTo(129.2230924639, 8);
    expect(fit.random[0]!.correlations[0]![1]).toBe(-1);
    expect(fit.random[0]!.standardDeviations[0]).toBeCloseTo(3.293608836, 5);
    expect(fit.random[0]!.standardDeviations[1]).toBeCloseTo(0.985876499, 5);
    expect(fit.fixed[0]!.df).toBeCloseTo(7.000060378, 4);
    expect(fit.fixed[1]!.df).toBeCloseTo(7.009328696, 4);
    expect(fit.boundary).toEqual(['the correlation of 1 and x between levels of g is -1']);
    expect(fit.convergence.converged).toBe(true);
  });

  test('finds a standard deviation of exactly 0 and says so', () => {
    const fit = fitMixed(referenceColumns('dyestuff2'), {
      response: 'Yield',
      fixed: [],
      random: [{ group: ['Batch'], effects: ['1'] }],
    });
    expect(fit.random[0]!.standardDeviations).toEqual([0]);
    expect(fit.boundary).toEqual(['the standard deviation of 1 between levels of Batch is 0']);
    expect(fit.modes()[0]!.modes[0]).toEqual(new Float64Array(6));
  });

  test('keeps to the boundary only where that is best: a small variance of many groups is found', () => {
    const normal = normalRandom(21);
    const g = Array.from({ length: 20000 }, (_, i) => Math.floor(i / 10));
    const effects = Array.from({ length: 2000 }, () => 0.1 * normal());
    const fit = fitMixed(
      { y: g.map((level) => effects[level]! + normal()), g },
      { response: 'y', fixed: [], random: [{ group: ['g'], effects: ['1'] }] },
    );
    expect(fit.boundary).toEqual([]);
    expect(Math.abs(fit.random[0]!.standardDeviations[0]! - 0.1)).toBeLessThan(0.03);
  });

  test('names an effect that is a combination of two others', () => {
    const normal = normalRandom(2);
    const columns = { y: [] as number[], u: [] as number[], v: [] as number[], g: [] as number[] };
    for (let g = 0; g < 30; g++) {
      const [a, b] = [normal(), normal()];
      for (let i = 0; i < 12; i++) {
        const [u, v] = [(i % 4) - 1.5, (i % 3) - 1];
        columns.g.push(g);
        columns.u.push(u);
        columns.v.push(v);
        columns.y.push(a + b * u + (a - b) * v + 0.7 * normal());
      }
    }
    const fit = fitMixed(columns, {
      response: 'y',
      fixed: [{ numeric: 'u' }, { numeric: 'v' }],
      random: [{ group: ['g'], effects: ['1', 'u', 'v'] }],
    });
    expect(fit.convergence.converged).toBe(true);
    // About half of such samples have their maximum on the boundary; this one does.
    expect(fit.boundary).toEqual(['v between levels of g is a linear combination of the effects before it']);
    // The truth has rank 2: the smallest eigenvalue of the correlation matrix is near 0 either way.
    const r = fit.random[0]!.correlations;
    const determinant = 1 - r[0]![1]! ** 2 - r[0]![2]! ** 2 - r[1]![2]! ** 2 + 2 * r[0]![1]! * r[0]![2]! * r[1]![2]!;
    expect(determinant).toBeLessThan(0.05);
  });
});

describe('options.start', () => {
  const description = { response: 'y', fixed: [], random: [{ group: ['g'], effects: ['1'] }] };
  const between = (spread: number): { y: number[]; g: number[] } => {
    const y: number[] = [];
    const g: number[] = [];
    const normal = normalRandom(5);
    for (let level = 0; level < 12; level++) {
      const shift = spread * normal();
      for (let row = 0; row < 4; row++) {
        y.push(shift + normal());
        g.push(level);
      }
    }
    return { y, g };
  };

  test('leads to the same optimum in fewer evaluations', () => {
    const cold = fitMixed(between(2), description);
    const warm = fitMixed(between(2), description, { start: cold.theta });
    expect(warm.criterion).toBeCloseTo(cold.criterion, 9);
    expect(warm.convergence.evaluations).toBeLessThan(cold.convergence.evaluations);
  });

  test('at a variance of zero can be left', () => {
    const cold = fitMixed(between(2), description);
    const warm = fitMixed(between(2), description, { start: [0] });
    expect(warm.random[0]!.standardDeviations[0]).toBeCloseTo(cold.random[0]!.standardDeviations[0]!, 6);
  });
});
