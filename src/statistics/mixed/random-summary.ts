import { lambdaOf } from './criterion.ts';
import type { Model } from './model.ts';

/** Standard deviations and correlations of the random effects of one grouping. */
export interface RandomSummary {
  readonly group: string;
  readonly effects: readonly string[];
  readonly standardDeviations: readonly number[];
  /** Square, by effect; 0 between independent effects, NaN where a standard deviation is 0. */
  readonly correlations: readonly (readonly number[])[];
  /** Effects with the same number may be correlated; others are independent. */
  readonly block: readonly number[];
}

/** The covariance parameters in real units, and what lies on the boundary, in words. */
export function summariseRandom(
  model: Model,
  theta: Float64Array,
  sigma: number,
): { readonly random: readonly RandomSummary[]; readonly boundary: readonly string[] } {
  const lambda = lambdaOf(theta, model.criterion.parameters, model.products.size);
  const boundary: string[] = [];
  const random = model.data.groupings.map(({ name, effects, block, size: m }, g): RandomSummary => {
    const triangle = lambda[g]!;
    const covariance = (i: number, j: number): number => {
      let sum = 0;
      for (let k = 0; k <= Math.min(i, j); k++) sum += triangle[i * m + k]! * triangle[j * m + k]!;
      return sum;
    };
    const standardDeviations = effects.map((_, e) => (Math.sqrt(covariance(e, e)) * sigma) / model.effectScale[g]![e]!);
    const correlations = effects.map((_, i) =>
      effects.map((_other, j) => {
        if (i === j) return standardDeviations[i] === 0 ? NaN : 1;
        const r = covariance(i, j) / Math.sqrt(covariance(i, i) * covariance(j, j));
        return Math.max(-1, Math.min(1, Math.abs(r) > 1 - 1e-12 ? Math.sign(r) : r));
      }),
    );
    effects.forEach((effect, e) => {
      if (standardDeviations[e] === 0)
        boundary.push(`the standard deviation of ${effect} between levels of ${name} is 0`);
      else if (triangle[e * m + e] === 0) {
        const partner = effects.findIndex(
          (_, f) => f < e && block[f] === block[e] && Math.abs(correlations[e]![f]!) === 1,
        );
        boundary.push(
          partner >= 0
            ? `the correlation of ${effects[partner]!} and ${effect} between levels of ${name} is ${correlations[e]![partner]!}`
            : `${effect} between levels of ${name} is a linear combination of the effects before it`,
        );
      }
    });
    return { group: name, effects, standardDeviations, correlations, block };
  });
  return { random, boundary };
}
