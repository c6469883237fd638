import { normalCdf } from '../statistics/distributions.ts';

/** What an error costs the player; thresholds in cents. */
export type Loss =
  | { readonly kind: 'squared' }
  | { readonly kind: 'audible'; readonly thresholdCents: number }
  | { readonly kind: 'minimax' };

/**
 * A loss by the name of its kind, as a person wrote it.
 *
 * @param thresholdCents of the audible loss; the others take no notice of it
 * @throws {RangeError} where there is no such loss, or a threshold is not from 0 to 100
 */
export function lossNamed(kind: string, thresholdCents: number): Loss {
  switch (kind) {
    case 'squared':
    case 'minimax':
      return { kind };
    case 'audible':
      if (!(thresholdCents >= 0 && thresholdCents <= 100))
        throw new RangeError(`found an audible threshold of ${thresholdCents} cents, expected a number from 0 to 100`);
      return { kind, thresholdCents };
    default:
      throw new RangeError(`found loss "${kind}", expected audible, squared or minimax`);
  }
}

/** The error at one fret before it is known: normal, in cents. */
export interface NormalError {
  readonly mean: number;
  readonly sd: number;
}

function density(z: number): number {
  return Math.exp((-z * z) / 2) / Math.sqrt(2 * Math.PI);
}

/** `E e^2 = m^2 + s^2`, in cents squared. */
export function expectedSquare({ mean, sd }: NormalError): number {
  return mean * mean + sd * sd;
}

/**
 * `E max(0, |e| - a)^2` for a normal error, in cents squared: the part of an error that exceeds the audible threshold `a`.
 *
 * Each tail has the closed form `((m - a)^2 + s^2) Phi((m - a)/s) + (m - a) s phi((m - a)/s)`, the second moment of a
 * normal truncated below at 0 (the other tail with m negated).
 */
export function expectedExcess({ mean, sd }: NormalError, thresholdCents: number): number {
  if (sd === 0) return Math.max(0, Math.abs(mean) - thresholdCents) ** 2;
  return upperMoment(mean - thresholdCents, sd) + upperMoment(-mean - thresholdCents, sd);
}

/** `E max(0, x)^2` for x normal with the given mean and sd above 0. */
function upperMoment(mean: number, sd: number): number {
  const z = mean / sd;
  // Seven standard deviations below 0 the moment is under 1e-13 of the variance: nothing.
  return z < -7 ? 0 : Math.max(0, (mean * mean + sd * sd) * normalCdf(z) + mean * sd * density(z));
}

/** `E |e|` in cents, the mean of a folded normal: `s sqrt(2/pi) exp(-m^2 / 2 s^2) + m (1 - 2 Phi(-m/s))`. */
export function expectedMagnitude({ mean, sd }: NormalError): number {
  if (sd === 0) return Math.abs(mean);
  return 2 * sd * density(mean / sd) + mean * (1 - 2 * normalCdf(-mean / sd));
}

/** `P(|e| > x)` for a normal error. */
export function exceedance({ mean, sd }: NormalError, x: number): number {
  if (sd === 0) return Number(Math.abs(mean) > x);
  return normalCdf((mean - x) / sd) + normalCdf((-mean - x) / sd);
}

/**
 * Expected cost in cents of a string's errors along the neck: the root of the usage-weighted mean expected loss for
 * `squared` (a root mean square error) and `audible` (a root mean square excess), and the largest expected magnitude at
 * any fret in use for `minimax`.
 *
 * @param errors one per fret
 * @param weights how often each of these frets is played; they sum to 1
 */
export function expectedCost(errors: readonly NormalError[], weights: ArrayLike<number>, loss: Loss): number {
  let total = 0;
  for (let at = 0; at < errors.length; at++) {
    const weight = weights[at]!;
    if (weight === 0) continue;
    const error = errors[at]!;
    if (loss.kind === 'minimax') total = Math.max(total, expectedMagnitude(error));
    else
      total += weight * (loss.kind === 'squared' ? expectedSquare(error) : expectedExcess(error, loss.thresholdCents));
  }
  return loss.kind === 'minimax' ? total : Math.sqrt(total);
}
