import { describe, expect, test } from 'vitest';
import type { Combination } from '../../../src/statistics/mixed/combine.ts';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';
import { normalRandom } from '../../../src/statistics/random.ts';
import { referenceColumns } from '../reference-data.ts';

/** Inverse by Gauss-Jordan elimination with row exchanges: slow, and nothing the engine uses. */
function inverse(matrix: readonly (readonly number[])[]): number[][] {
  const n = matrix.length;
  const a = matrix.map((row, i) => [...row, ...Array.from({ length: n }, (_, j) => (i === j ? 1 : 0))]);
  for (let k = 0; k < n; k++) {
    const pivot = a.slice(k).reduce((best, row, i) => (Math.abs(row[k]!) > Math.abs(a[best]![k]!) ? k + i : best), k);
    [a[k], a[pivot]] = [a[pivot]!, a[k]!];
    a[k] = a[k]!.map((x) => x / a[k]![k]!);
    for (let i = 0; i < n; i++) if (i !== k) a[i] = a[i]!.map((x, j) => x - a[i]![k]! * a[k]![j]!);
  }
  return a.map((row) => row.slice(n));
}

/** Random intercept and slope of 8 groups in 3 sites, unbalanced and weighted. */
function simulated(): Record<string, number[] | string[]> {
  const normal = normalRandom(11);
  const columns = {
    y: [] as number[],
    x: [] as number[],
    group: [] as string[],
    site: [] as string[],
    w: [] as number[],
  };
  for (let g = 0; g < 8; g++) {
    const [a, b] = [2 * normal(), normal()];
    for (let k = 0; k < 4 + (g % 3); k++) {
      const x = k - 1.5 + 0.1 * g;
      columns.x.push(x);
      columns.group.push(`g${g}`);
      columns.site.push(`s${g % 3}`);
      columns.w.push(1 + (k % 2));
      columns.y.push(5 + 0.7 * x + (g % 3) + a + b * x + normal() / Math.sqrt(1 + (k % 2)));
    }
  }
  return columns;
}

describe('combine', () => {
  const columns = simulated();
  const fit = fitMixed(columns, {
    response: 'y',
    fixed: [{ numeric: 'x' }],
    random: [
      { group: ['site'], effects: ['1'] },
      { group: ['group'], effects: ['1', 'x'] },
    ],
    weights: 'w',
  });
  const [y, x, w] = [columns.y, columns.x, columns.w] as [number[], number[], number[]];
  const [groups, sites] = [columns.group, columns.site] as [string[], string[]];
  const levels = [...new Set(groups)];
  const places = [...new Set(sites)];

  /** Henderson's mixed model equations at the fitted variances: order (Intercept), x, sites, then intercept and slope by group. */
  function mixedModelEquations(): { coefficients: number[]; covariance: number[][] } {
    const bySite = fit.random.find(({ group }) => group === 'site')!.standardDeviations[0]!;
    const { standardDeviations, correlations } = fit.random.find(({ group }) => group === 'group')!;
    const [s0, s1] = [standardDeviations[0]!, standardDeviations[1]!];
    const size = 2 + places.length + 2 * levels.length;
    const rows = y.map((_, i) => {
      const row = new Array<number>(size).fill(0);
      [row[0], row[1]] = [1, x[i]!];
      row[2 + places.indexOf(sites[i]!)] = 1;
      const at = 2 + places.length + 2 * levels.indexOf(groups[i]!);
      [row[at], row[at + 1]] = [1, x[i]!];
      return row;
    });
    const c = Array.from({ length: size }, (_, i) =>
      Array.from({ length: size }, (_other, j) =>
        rows.reduce((sum, row, k) => sum + (w[k]! * row[i]! * row[j]!) / fit.sigma ** 2, 0),
      ),
    );
    places.forEach((_, k) => (c[2 + k]![2 + k]! += 1 / bySite ** 2));
    const cross = correlations[0]![1]! * s0 * s1;
    const precision = inverse([
      [s0 * s0, cross],
      [cross, s1 * s1],
    ]);
    levels.forEach((_, k) => {
      const at = 2 + places.length + 2 * k;
      for (const [i, j] of [
        [0, 0],
        [0, 1],
        [1, 0],
        [1, 1],
      ] as const)
        c[at + i]![at + j]! += precision[i]![j]!;
    });
    const covariance = inverse(c);
    const right = Array.from({ length: size }, (_, i) =>
      rows.reduce((sum, row, k) => sum + (w[k]! * row[i]! * y[k]!) / fit.sigma ** 2, 0),
    );
    return { covariance, coefficients: covariance.map((row) => row.reduce((sum, v, j) => sum + v * right[j]!, 0)) };
  }

  const combinations: Combination[] = [
    { label: 'mean', fixed: { '(Intercept)': 1 } },
    {
      label: 'g2 at x = 2',
      fixed: { '(Intercept)': 1, x: 2 },
      random: [
        { group: ['site'], level: ['s2'], effect: '1' },
        { group: ['group'], level: ['g2'], effect: '1' },
        { group: ['group'], level: ['g2'], effect: 'x', coefficient: 2 },
      ],
    },
    { label: 's2', fixed: { '(Intercept)': 1 }, random: [{ group: ['site'], level: ['s2'], effect: '1' }] },
    {
      label: 'slope of g5 less g2',
      random: [
        { group: ['group'], level: ['g5'], effect: 'x' },
        { group: ['group'], level: ['g2'], effect: 'x', coefficient: -1 },
      ],
    },
  ];
  const vectors = combinations.map(({ fixed = {}, random = [] }) => {
    const a = new Array<number>(2 + places.length + 2 * levels.length).fill(0);
    [a[0], a[1]] = [fixed['(Intercept)'] ?? 0, fixed.x ?? 0];
    for (const { group, level, effect, coefficient = 1 } of random) {
      const name = String((level as readonly string[])[0]);
      const at =
        group[0] === 'site'
          ? 2 + places.indexOf(name)
          : 2 + places.length + 2 * levels.indexOf(name) + (effect === 'x' ? 1 : 0);
      a[at]! += coefficient;
    }
    return a;
  });

  // Henderson (1975), Biometrics 31, 423-447: the inverse of the mixed model equations, here formed densely.
  test('has the estimates and the joint prediction covariance of the mixed model equations', () => {
    const { estimates, covariance } = fit.combine(combinations);
    const dense = mixedModelEquations();
    vectors.forEach((a, k) => {
      expect(estimates[k]!.estimate).toBeCloseTo(
        a.reduce((sum, v, j) => sum + v * dense.coefficients[j]!, 0),
        9,
      );
      vectors.forEach((b, l) => {
        let expected = 0;
        a.forEach((v, i) => b.forEach((u, j) => (expected += v * dense.covariance[i]![j]! * u)));
        expect(covariance[k]![l]!).toBeCloseTo(expected, 9);
      });
      expect(estimates[k]!.standardError).toBeCloseTo(Math.sqrt(covariance[k]![k]!), 12);
    });
  });

  test('adds the variance of a new level, once for each name', () => {
    const at = (name: string): Combination => ({
      fixed: { '(Intercept)': 1, x: 1 },
      random: [
        { group: ['site'], level: ['s1'], effect: '1' },
        { group: ['group'], level: { new: name }, effect: '1' },
        { group: ['group'], level: { new: name }, effect: 'x' },
      ],
    });
    const known: Combination = {
      fixed: { '(Intercept)': 1, x: 1 },
      random: [{ group: ['site'], level: ['s1'], effect: '1' }],
    };
    const { covariance, estimates } = fit.combine([known, at('a'), at('a'), at('b')]);
    const {
      standardDeviations: [s0, s1],
      correlations,
    } = fit.random.find(({ group }) => group === 'group')!;
    const between = s0! ** 2 + s1! ** 2 + 2 * correlations[0]![1]! * s0! * s1!;
    expect(covariance[1]![1]! - covariance[0]![0]!).toBeCloseTo(between, 10);
    expect(covariance[1]![2]! - covariance[0]![0]!).toBeCloseTo(between, 10);
    expect(covariance[1]![3]!).toBeCloseTo(covariance[0]![0]!, 10);
    expect(estimates[1]!.estimate).toBeCloseTo(estimates[0]!.estimate, 12);
  });

  test('agrees with modes() in prediction errors and with fixed in standard errors and df', () => {
    const groupModes = fit.modes().find(({ group }) => group === 'group')!;
    const { estimates } = fit.combine(
      groupModes.levels.map((level) => ({ random: [{ group: ['group'], level: [level], effect: 'x' }] })),
    );
    estimates.forEach((found, k) => {
      expect(found.estimate).toBeCloseTo(groupModes.modes[1]![k]!, 10);
      expect(found.standardError).toBeCloseTo(groupModes.predictionErrors[1]![k]!, 9);
    });
    const slope = fit.combine([{ fixed: { x: 1 } }]).estimates[0]!;
    expect(slope.standardError).toBeCloseTo(fit.fixed[1]!.standardError, 10);
    expect(slope.df).toBeCloseTo(fit.fixed[1]!.df, 4);
  });

  test('reads the labels of a level in the order of the grouping columns given', () => {
    const oats = fitMixed(referenceColumns('oats'), {
      response: 'yield',
      fixed: [{ numeric: 'nitro' }],
      random: [{ group: ['Block', 'Variety'], effects: ['1'] }],
    });
    const [one, other] = oats.combine([
      { random: [{ group: ['Block', 'Variety'], level: ['I', 'Victory'], effect: '1' }] },
      { random: [{ group: ['Variety', 'Block'], level: ['Victory', 'I'], effect: '1' }] },
    ]).estimates;
    expect(one!.estimate).toBe(other!.estimate);
  });

  test.each<[Combination, string]>([
    [{ fixed: { slope: 1 } }, 'Cannot combine: no fixed term "slope"; the terms are (Intercept), x'],
    [
      { random: [{ group: ['room'], level: ['a'], effect: '1' }] },
      'Cannot combine: no grouping by room; the groupings are group, site',
    ],
    [
      { random: [{ group: ['group'], level: ['g9'], effect: '1' }] },
      'Cannot combine: group has no level "g9" in the data; name it as a new level if it is one',
    ],
    [
      { random: [{ group: ['site'], level: ['s1'], effect: 'x' }] },
      'Cannot combine: site has no random effect "x"; it has 1',
    ],
  ])('refuses what the model does not have: %#', (combination, message) => {
    expect(() => fit.combine([combination])).toThrow(new RangeError(message));
  });
});
