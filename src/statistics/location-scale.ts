/** Normal-consistent factor of the median absolute deviation: 1 / Phi^-1(3/4). */
export const madToSigma = 1.482602218505602;

function requireSome(values: ArrayLike<number>, what: string): void {
  if (values.length === 0) throw new RangeError(`Cannot find the ${what} of no values; expected at least 1`);
  for (let i = 0; i < values.length; i++)
    if (Number.isNaN(values[i])) throw new RangeError(`Cannot find the ${what}: value ${i + 1} is NaN`);
}

/**
 * Quantile by linear interpolation between order statistics, `(n - 1) p` from the first: definition 7 of Hyndman & Fan
 * (1996), The American Statistician 50, 361-365.
 *
 * @throws {RangeError} for no values, a NaN, or a probability outside 0 to 1
 */
export function quantile(values: ArrayLike<number>, probability: number): number {
  requireSome(values, 'quantile');
  if (!(probability >= 0 && probability <= 1))
    throw new RangeError(`Cannot find the quantile at ${probability}; expected a probability from 0 to 1`);
  const sorted = Float64Array.from(values).sort();
  const at = (sorted.length - 1) * probability;
  const below = Math.floor(at);
  const above = Math.min(below + 1, sorted.length - 1);
  return sorted[below]! + (at - below) * (sorted[above]! - sorted[below]!);
}

/** The arithmetic mean; NaN for no values. */
export function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

/** The median; the mean of the middle two for an even number. */
export function median(values: ArrayLike<number>): number {
  requireSome(values, 'median');
  return quantile(values, 0.5);
}

/**
 * Median absolute deviation from the median (or from `centre`), scaled to estimate the standard deviation of normal
 * values. Hampel (1974), J. Am. Stat. Assoc. 69, 383-393.
 */
export function medianAbsoluteDeviation(values: ArrayLike<number>, centre = median(values)): number {
  return madToSigma * median(Array.from(values, (value) => Math.abs(value - centre)));
}

/** A robust mean, the scale it was found with and the weight of each value. */
export interface RobustLocation {
  readonly location: number;
  readonly scale: number;
  readonly weights: Float64Array;
}

/**
 * Huber's M-estimate of location with the scale held at the median absolute deviation; values further than `k` scales
 * count less. With a scale of 0 (more than half the values equal) it is the median.
 * Huber (1981), Robust Statistics, section 6.4; k = 1.5 is the usual choice there.
 */
export function huberLocation(values: ArrayLike<number>, k = 1.5): RobustLocation {
  const scale = medianAbsoluteDeviation(values);
  let location = median(values);
  const weights = new Float64Array(values.length).fill(1);
  if (scale === 0) {
    for (let i = 0; i < values.length; i++) weights[i] = values[i] === location ? 1 : 0;
    return { location, scale, weights };
  }
  for (let step = 0; step < 1000; step++) {
    let [sum, total] = [0, 0];
    for (let i = 0; i < values.length; i++) {
      const distance = Math.abs(values[i]! - location) / scale;
      weights[i] = distance <= k ? 1 : k / distance;
      sum += weights[i]! * values[i]!;
      total += weights[i]!;
    }
    const next = sum / total;
    const moved = Math.abs(next - location);
    location = next;
    if (moved <= 1e-14 * scale) break;
  }
  return { location, scale, weights };
}
