import { mean } from './location-scale.ts';
import { infer, type Inference } from './mixed/inference.ts';

/** The values of one block before and after. */
export interface Stratum {
  readonly before: readonly number[];
  readonly after: readonly number[];
}

/** The difference after less before, and the two means that it is the difference of. */
export interface Difference extends Inference {
  readonly meanBefore: number;
  readonly meanAfter: number;
  /** Values on each side that count: those of blocks with values on both. */
  readonly before: number;
  readonly after: number;
  /** Blocks with values on both sides. */
  readonly strata: number;
}

/**
 * The mean difference between two unlike samples, block by block: each block's difference of means, weighed by
 * `b a / (b + a)` for b values before and a after, so that the estimate is the one of the additive model with fixed blocks. The two
 * sides may scatter unlike each other: each has its own variance, pooled within its blocks, and the degrees of freedom are
 * Welch's. With one block it is Welch's two-sample t.
 *
 * Blocks without values on both sides do not count. Values of a side are taken as independent, and as scattering alike in all blocks.
 *
 * @returns null where a side has no two values of one block, or where nothing scatters: then no interval can be given
 * @see Welch (1947), Biometrika 34, 28; from memory
 */
export function stratifiedDifference(strata: readonly Stratum[], level = 0.95): Difference | null {
  const both = strata.filter(({ before, after }) => before.length > 0 && after.length > 0);
  const weights = both.map(({ before, after }) => (before.length * after.length) / (before.length + after.length));
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const side = (pick: (stratum: Stratum) => readonly number[]) => {
    const values = both.map(pick);
    const count = values.reduce((sum, of) => sum + of.length, 0);
    const df = count - both.length;
    const variance = values.reduce((sum, of) => sum + squaresAbout(of), 0) / df;
    return {
      count,
      df,
      mean: values.reduce((sum, of, at) => sum + (weights[at]! / total) * mean(of), 0),
      error: values.reduce((sum, of, at) => sum + (weights[at]! / total) ** 2 / of.length, 0) * variance,
    };
  };
  if (both.length === 0) return null;
  const [before, after] = [side((stratum) => stratum.before), side((stratum) => stratum.after)];
  const variance = before.error + after.error;
  if (before.df < 1 || after.df < 1 || !(variance > 0)) return null;
  const df = variance ** 2 / (before.error ** 2 / before.df + after.error ** 2 / after.df);
  return {
    ...infer({ estimate: after.mean - before.mean, standardError: Math.sqrt(variance), df }, level),
    meanBefore: before.mean,
    meanAfter: after.mean,
    before: before.count,
    after: after.count,
    strata: both.length,
  };
}

/**
 * The mean difference of pairs, after less before: Student's paired t.
 *
 * @returns null for fewer than two pairs, or where all differences are equal
 */
export function pairedDifference(pairs: readonly (readonly [number, number])[], level = 0.95): Difference | null {
  const differences = pairs.map(([before, after]) => after - before);
  const squares = squaresAbout(differences);
  const [count, df] = [pairs.length, pairs.length - 1];
  if (df < 1 || !(squares > 0)) return null;
  return {
    ...infer({ estimate: mean(differences), standardError: Math.sqrt(squares / df / count), df }, level),
    meanBefore: mean(pairs.map(([before]) => before)),
    meanAfter: mean(pairs.map(([, after]) => after)),
    before: count,
    after: count,
    strata: count,
  };
}

function squaresAbout(values: readonly number[]): number {
  const middle = mean(values);
  return values.reduce((sum, value) => sum + (value - middle) ** 2, 0);
}
