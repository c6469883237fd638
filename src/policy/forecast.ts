import type { ModelTrend, Trend } from '../trend/trend.ts';
import type { ModelEstimates } from '../trend/leave-out.ts';
import type { StringForecast } from './neck.ts';

/**
 * What the trend foretells of the next instrument of a model, string by string.
 *
 * Between instruments the nut offset varies with sd a and the rise with sd sqrt(b^2 + c^2); what is unknown of the model
 * itself is the covariance of its estimates.
 */
export function forecastModel(model: ModelEstimates, trend: Trend): StringForecast[] {
  return model.cells.map((cell, at) => ({
    string: cell.string,
    nut: model.nut.estimate,
    rise: cell.rise.estimate,
    nutVariance: model.covariance[0]![0]! + trend.spread.stringNut ** 2,
    riseVariance: model.covariance[at + 1]![at + 1]! + betweenVariance(trend),
    covariance: model.covariance[0]![at + 1]!,
  }));
}

/** Variance between instruments of one string's rise, in cents squared. */
export function betweenVariance({ spread }: Trend): number {
  return spread.instrumentRise ** 2 + spread.stringRise ** 2;
}

/**
 * Equally likely cases of what the model may truly be: its nut offset and rises drawn jointly from the normal with the
 * estimates' covariance, each with the spread between instruments alone.
 *
 * @param normal source of standard normal numbers
 */
export function possibleModels(
  model: ModelTrend,
  trend: Trend,
  cases: number,
  normal: () => number,
): StringForecast[][] {
  const factor = choleskyFactor(model.covariance);
  const means = [model.nut.estimate, ...model.cells.map((cell) => cell.rise.estimate)];
  return Array.from({ length: cases }, () => {
    const z = means.map(() => normal());
    const drawn = means.map((mean, i) => factor[i]!.reduce((sum, l, j) => sum + l * z[j]!, mean));
    return model.cells.map((cell, at) => ({
      string: cell.string,
      nut: drawn[0]!,
      rise: drawn[at + 1]!,
      nutVariance: trend.spread.stringNut ** 2,
      riseVariance: betweenVariance(trend),
      covariance: 0,
    }));
  });
}

/** Lower triangular L with L L' = matrix, for a positive semidefinite matrix: a pivot of 0 (to rounding) gives a column of zeros. */
function choleskyFactor(matrix: readonly (readonly number[])[]): number[][] {
  const factor = matrix.map((row) => row.map(() => 0));
  for (let j = 0; j < matrix.length; j++) {
    const pivot = matrix[j]![j]! - factor[j]!.reduce((sum, l) => sum + l * l, 0);
    if (pivot <= 1e-12 * Math.abs(matrix[j]![j]!)) continue;
    factor[j]![j] = Math.sqrt(pivot);
    for (let i = j + 1; i < matrix.length; i++) {
      const shared = factor[i]!.reduce((sum, l, k) => sum + l * factor[j]![k]!, 0);
      factor[i]![j] = (matrix[i]![j]! - shared) / factor[j]![j]!;
    }
  }
  return factor;
}
