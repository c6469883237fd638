import { describe, expect, test } from 'vitest';
import type { MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { fitMixed } from '../../../src/statistics/mixed/fit-mixed.ts';
import { fitStudent } from '../../../src/statistics/mixed/student-mixed.ts';
import { normalRandom } from '../../../src/statistics/random.ts';
import { referenceColumns, relativeError } from '../reference-data.ts';

const sleep = referenceColumns('sleepstudy') as { Reaction: number[]; Days: number[]; Subject: number[] };
const description: MixedDescription = {
  response: 'Reaction',
  fixed: [{ numeric: 'Days' }],
  random: [{ group: ['Subject'], effects: ['1', 'Days'] }],
};

interface Parameters {
  readonly beta: readonly [number, number];
  readonly deviations: readonly [number, number];
  readonly correlation: number;
  readonly sigma: number;
  readonly nu: number;
}

/** log Gamma by Stirling's series after shifting the argument up. */
function logGamma(x: number): number {
  let [shifted, result] = [x, 0];
  while (shifted < 20) result -= Math.log(shifted++);
  return (
    result +
    (shifted - 0.5) * Math.log(shifted) -
    shifted +
    0.5 * Math.log(2 * Math.PI) +
    1 / (12 * shifted) -
    1 / (360 * shifted ** 3)
  );
}

/** Log-likelihood of multivariate t distributed subjects, from their 10 by 10 covariance matrices. */
function tLogLikelihood({ beta, deviations: [s0, s1], correlation, sigma, nu }: Parameters): number {
  let total = 0;
  for (const subject of new Set(sleep.Subject)) {
    const rows = sleep.Subject.flatMap((value, i) => (value === subject ? [i] : []));
    const n = rows.length;
    const v = rows.map((i, a) =>
      rows.map((j, b) => {
        const [x, z] = [sleep.Days[i]!, sleep.Days[j]!];
        return s0 ** 2 + correlation * s0 * s1 * (x + z) + s1 ** 2 * x * z + (a === b ? sigma ** 2 : 0);
      }),
    );
    const r = rows.map((i) => sleep.Reaction[i]! - beta[0] - beta[1] * sleep.Days[i]!);
    let [logDet, distance] = [0, 0];
    for (let k = 0; k < n; k++) {
      logDet += Math.log(v[k]![k]!);
      distance += r[k]! ** 2 / v[k]![k]!;
      for (let i = k + 1; i < n; i++) {
        const share = v[i]![k]! / v[k]![k]!;
        r[i]! -= share * r[k]!;
        for (let j = k + 1; j < n; j++) v[i]![j]! -= share * v[k]![j]!;
      }
    }
    total += logGamma((nu + n) / 2) - logGamma(nu / 2) - (n / 2) * Math.log(Math.PI * nu) - logDet / 2;
    total -= ((nu + n) / 2) * Math.log1p(distance / nu);
  }
  return total;
}

function parametersOf(nu: number | 'chosen'): Parameters {
  const { fit, nu: used } = fitStudent(sleep, description, { group: ['Subject'], nu, method: 'ML' });
  const [random] = fit.random;
  return {
    beta: [fit.fixed[0]!.estimate, fit.fixed[1]!.estimate],
    deviations: [random!.standardDeviations[0]!, random!.standardDeviations[1]!],
    correlation: random!.correlations[0]![1]!,
    sigma: fit.sigma,
    nu: used,
  };
}

describe('fitStudent', () => {
  // Pinheiro, Liu & Wu (2001), equation for the marginal density, evaluated densely.
  test.each([4, 'chosen'] as const)('maximises the likelihood of multivariate t groups, nu %s', (nu) => {
    const found = parametersOf(nu);
    const best = tLogLikelihood(found);
    const moves: ((size: number) => Parameters)[] = [
      (size) => ({ ...found, beta: [found.beta[0] + size * 5, found.beta[1]] }),
      (size) => ({ ...found, beta: [found.beta[0], found.beta[1] + size] }),
      (size) => ({ ...found, deviations: [found.deviations[0] * (1 + size), found.deviations[1]] }),
      (size) => ({ ...found, deviations: [found.deviations[0], found.deviations[1] * (1 + size)] }),
      (size) => ({ ...found, correlation: found.correlation + size }),
      (size) => ({ ...found, sigma: found.sigma * (1 + size) }),
    ];
    if (nu === 'chosen') moves.push((size) => ({ ...found, nu: found.nu * (1 + size) }));
    for (const move of moves) {
      const [up, down] = [tLogLikelihood(move(0.01)), tLogLikelihood(move(-0.01))];
      expect(up).toBeLessThan(best);
      expect(down).toBeLessThan(best);
      // Stationary: the rise and the fall are alike.
      expect(Math.abs(up - down)).toBeLessThan(0.1 * (2 * best - up - down) + 1e-6);
    }
  });

  test('is the normal fit for very many degrees of freedom', () => {
    const { fit } = fitStudent(sleep, description, { group: ['Subject'], nu: 1e9 });
    const normal = fitMixed(sleep, description);
    expect(relativeError(fit.sigma, normal.sigma)).toBeLessThan(1e-6);
    expect(relativeError(fit.fixed[1]!.estimate, normal.fixed[1]!.estimate)).toBeLessThan(1e-6);
  });

  test('lists the gross outlier, keeps its readings, and stays near the truth where the normal fit does not', () => {
    const normal = normalRandom(8);
    const columns = { y: [] as number[], g: [] as number[] };
    for (let g = 0; g < 40; g++) {
      const b = normal();
      for (let i = 0; i < 5; i++) {
        columns.g.push(g);
        columns.y.push(10 + b + 0.5 * normal() + (g === 7 ? 60 : 0));
      }
    }
    const model: MixedDescription = { response: 'y', fixed: [], random: [{ group: ['g'], effects: ['1'] }] };
    const robust = fitStudent(columns, model, { group: ['g'] });
    expect(robust.converged).toBe(true);
    expect(robust.downWeighted[0]!.group).toBe('7');
    expect(robust.downWeighted[0]!.weight).toBeLessThan(0.01);
    expect(robust.groups).toHaveLength(40);
    expect(Math.abs(robust.fit.fixed[0]!.estimate - 10)).toBeLessThan(0.5);
    expect(Math.abs(fitMixed(columns, model).fixed[0]!.estimate - 10)).toBeGreaterThan(1);
    // The outlier's own effect is still read off its readings: modes, combine and fitted values agree on it.
    const { levels, modes } = robust.fit.modes()[0]!;
    const mode = modes[0]![levels.indexOf('7')]!;
    expect(mode).toBeGreaterThan(50);
    const part = { random: [{ group: ['g'], level: [7], effect: '1' }] };
    expect(robust.fit.combine([part]).estimates[0]!.estimate).toBeCloseTo(mode, 9);
    expect(robust.fit.fitted[35]).toBeCloseTo(robust.fit.fixed[0]!.estimate + mode, 9);
  });

  test('weighs groups within a coarser random effect that stays normal', () => {
    const normal = normalRandom(12);
    const columns = { y: [] as number[], site: [] as number[], g: [] as number[] };
    for (let site = 0; site < 6; site++) {
      const s = normal();
      for (let g = 0; g < 8; g++) {
        const b = normal();
        for (let i = 0; i < 4; i++) {
          columns.site.push(site);
          columns.g.push(site * 8 + g);
          columns.y.push(s + b + 0.5 * normal() - (site === 2 && g === 3 ? 40 : 0));
        }
      }
    }
    const model: MixedDescription = {
      response: 'y',
      fixed: [],
      random: [
        { group: ['site'], effects: ['1'] },
        { group: ['g'], effects: ['1'] },
      ],
    };
    const { downWeighted, fit, converged } = fitStudent(columns, model, { group: ['g'] });
    expect(converged).toBe(true);
    expect(downWeighted[0]!.group).toBe('19');
    const site = fit.random.find(({ group }) => group === 'site')!.standardDeviations[0]!;
    expect(site).toBeLessThan(2);
    expect(site).toBeGreaterThan(0.4);
  });

  test('refuses degrees of freedom below 1', () => {
    expect(() => fitStudent(sleep, description, { group: ['Subject'], nu: 0.5 })).toThrow(
      new RangeError("Cannot fit a t distribution with 0.5 degrees of freedom; expected 1 or more, or 'chosen'"),
    );
  });
});
