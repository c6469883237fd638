import { fCdf } from '../distributions.ts';
import { symmetricEigen } from '../symmetric.ts';
import type { Combination, RandomPart } from './combine.ts';
import type { MixedFit } from './fit-mixed.ts';

export interface JointTest {
  readonly f: number;
  /** Rank of the combinations. */
  readonly df1: number;
  readonly df2: number;
  readonly p: number;
}

/** The sum of combinations times weights. */
function weightedSum(combinations: readonly Combination[], weights: readonly number[]): Combination {
  const fixed: Record<string, number> = {};
  const random: RandomPart[] = [];
  combinations.forEach((combination, k) => {
    for (const [term, value] of Object.entries(combination.fixed ?? {}))
      fixed[term] = (fixed[term] ?? 0) + weights[k]! * value;
    for (const part of combination.random ?? [])
      random.push({ ...part, coefficient: (part.coefficient ?? 1) * weights[k]! });
  });
  return { fixed, random };
}

/**
 * F test that several linear combinations are all zero, with Satterthwaite's denominator degrees of freedom: the
 * combinations are turned into uncorrelated ones, whose degrees of freedom are then averaged as Fai & Cornelius (1996, J.
 * Stat. Comput. Simul. 54, 363-378) do; Kuznetsova, Brockhoff & Christensen (2017), J. Stat. Softw. 82(13), section 2.
 *
 * @throws {RangeError} when the combinations have no variance
 */
export function testJointly(fit: MixedFit, combinations: readonly Combination[]): JointTest {
  const m = combinations.length;
  const { covariance } = fit.combine(combinations);
  const { values, vectors } = symmetricEigen(
    covariance.flatMap((row) => [...row]),
    m,
  );
  const largest = Math.max(0, ...values);
  const kept = Array.from(values.keys()).filter((k) => values[k]! > 1e-10 * largest);
  if (kept.length === 0)
    throw new RangeError('Cannot test combinations without variance; expected at least one that is estimated');
  const turned = kept.map((k) =>
    weightedSum(
      combinations,
      Array.from({ length: m }, (_, i) => vectors[i * m + k]!),
    ),
  );
  const parts = fit.combine(turned).estimates;
  const df1 = parts.length;
  const f = parts.reduce((sum, { t }) => sum + t * t, 0) / df1;
  const df2 = denominator(parts.map(({ df }) => df));
  return { f, df1, df2, p: 1 - fCdf(f, df1, df2) };
}

function denominator(each: readonly number[]): number {
  if (each.every((df) => Math.abs(df - each[0]!) < 1e-8 * each[0]!)) return each[0]!;
  const sum = each.reduce((total, df) => total + (df > 2 ? df / (df - 2) : 0), 0);
  return sum > each.length ? (2 * sum) / (sum - each.length) : 2;
}
