/** A chart's centre line and its limits; sigma is the standard deviation they are drawn with. */
export interface ChartLimits {
  readonly centre: number;
  readonly sigma: number;
  readonly low: number;
  readonly high: number;
}

/** Chart of individual values with the chart of their moving ranges. */
export interface IndividualsChart extends ChartLimits {
  readonly values: readonly number[];
  /** Size of each value's difference from the one before it; one fewer than there are values. */
  readonly movingRanges: readonly number[];
  /** Upper limit of the moving ranges; the lower one is 0. */
  readonly rangeLimit: number;
}

/**
 * Expected range of two standard normal values, `2 / sqrt(pi)` = 1.128 (the constant d2 for n = 2), and the three-sigma limit of
 * such a range over its mean, `1 + 3 sqrt(pi / 2 - 1)` = 3.267 (the constant D4): its variance is `2 - 4 / pi`.
 */
const d2 = 2 / Math.sqrt(Math.PI);
const d4 = 1 + 3 * Math.sqrt(Math.PI / 2 - 1);

/** Standard deviation from one value to the next: mean moving range over 1.128. A slow wandering of the mean does not enter. */
export function movingRangeSigma(values: readonly number[]): number {
  if (values.length < 2)
    throw new RangeError(`Cannot take moving ranges of ${values.length} values; expected 2 or more in order of time`);
  const ranges = movingRanges(values);
  return ranges.reduce((sum, range) => sum + range, 0) / ranges.length / d2;
}

function movingRanges(values: readonly number[]): number[] {
  return values.slice(1).map((value, at) => Math.abs(value - values[at]!));
}

/**
 * Chart of individual values, limits at three sigma, sigma from the moving ranges unless it is known.
 *
 * @param values in order of time, 2 or more
 * @param known centre line (default: the mean) and sigma, such as those of a target or of an earlier, quiet period
 * @see NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.2
 */
export function individualsChart(
  values: readonly number[],
  known: { readonly centre?: number; readonly sigma?: number } = {},
): IndividualsChart {
  const sigma = known.sigma ?? movingRangeSigma(values);
  const centre = known.centre ?? values.reduce((sum, value) => sum + value, 0) / values.length;
  return {
    values,
    movingRanges: movingRanges(values),
    centre,
    sigma,
    low: centre - 3 * sigma,
    high: centre + 3 * sigma,
    rangeLimit: d4 * d2 * sigma,
  };
}
