import { kappa, riseShape, saddleLeverage } from '../acoustics/frets.ts';
import type { NormalError } from './loss.ts';

/**
 * What is expected of one string of the next instrument of a model, open string in tune: a nut offset N and a rise R, in
 * cents, normal about their means.
 */
export interface StringForecast {
  readonly string: number;
  readonly nut: number;
  readonly rise: number;
  /** Variances and covariance of (N, R): what is not known of the model, and how its instruments differ. */
  readonly nutVariance: number;
  readonly riseVariance: number;
  readonly covariance: number;
}

/**
 * The saddle-invariant quantity that the 12th and the 17th fret show, `t = R + (1 - kappa) N`, in cents.
 * A nut offset lowers it: at both frets it counts once, but the 12th is taken kappa times.
 */
export function invariant(nut: number, rise: number): number {
  return rise + (1 - kappa) * nut;
}

/**
 * How a string's error at a fret hangs on its nut offset and its rise when the saddle stands at share q, so that
 * `cents12 = -q t / kappa`: `e(n) = N (1 - g(n)) + R u(n) - (q t / kappa) g(n) = a N + b R`.
 */
export function errorFactors(fret: number, share: number): { readonly ofNut: number; readonly ofRise: number } {
  const leverage = saddleLeverage(fret);
  return {
    ofNut: 1 - leverage - ((share * (1 - kappa)) / kappa) * leverage,
    ofRise: riseShape(fret) - (share / kappa) * leverage,
  };
}

/** The errors at frets 1 to `frets` that a share leaves on the forecast string, each normal. */
export function neckErrors(forecast: StringForecast, share: number, frets: number): NormalError[] {
  return Array.from({ length: frets }, (_, at) => {
    const { ofNut, ofRise } = errorFactors(at + 1, share);
    const variance =
      ofNut ** 2 * forecast.nutVariance +
      ofRise ** 2 * forecast.riseVariance +
      2 * ofNut * ofRise * forecast.covariance;
    return { mean: ofNut * forecast.nut + ofRise * forecast.rise, sd: Math.sqrt(Math.max(0, variance)) };
  });
}
