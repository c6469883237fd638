/** How an EWMA chart is drawn. */
export interface EwmaOptions {
  /** Weight of the newest value, above 0 and up to 1: small weights see small shifts. */
  readonly lambda: number;
  /** Half-width of the limits in standard deviations of the average. */
  readonly width: number;
  readonly target: number;
  /** Standard deviation of one value. */
  readonly sigma: number;
  /** Limits that widen from the first value on (default), or those they tend to. */
  readonly limits?: 'varying' | 'steady';
}

/** One point of an EWMA chart: the average after a value, and its limits. */
export interface EwmaPoint {
  readonly average: number;
  readonly low: number;
  readonly high: number;
}

/**
 * Chart of the exponentially weighted moving average `z_i = lambda x_i + (1 - lambda) z_(i-1)`, from `z_0 = target`, with limits
 * `target -/+ width sigma sqrt(lambda / (2 - lambda) (1 - (1 - lambda)^(2 i)))`.
 *
 * @param values in order of time
 * @throws {RangeError} when lambda, width or sigma is out of range
 * @see Lucas & Saccucci (1990), Technometrics 32, 1-12; NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4
 */
export function ewmaChart(values: readonly number[], options: EwmaOptions): EwmaPoint[] {
  const { lambda, width, target, sigma, limits = 'varying' } = options;
  if (!(lambda > 0 && lambda <= 1))
    throw new RangeError(`Cannot weigh the newest value by ${lambda}; expected a number above 0 and up to 1`);
  if (!(width > 0 && sigma >= 0))
    throw new RangeError(
      `Cannot draw limits ${width} times ${sigma} wide; expected a width above 0 and a sigma of 0 or more`,
    );
  let average = target;
  return values.map((value, at) => {
    average += lambda * (value - average);
    const settled = limits === 'steady' ? 1 : 1 - (1 - lambda) ** (2 * (at + 1));
    const reach = width * sigma * Math.sqrt((lambda / (2 - lambda)) * settled);
    return { average, low: target - reach, high: target + reach };
  });
}
