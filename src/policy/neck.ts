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

/** Leverage and rise shape of frets 0 to 36, looked up rather than computed: the policy asks for them millions of times. */
const leverages = Float64Array.from({ length: 37 }, (_, fret) => saddleLeverage(fret));
const shapes = Float64Array.from({ length: 37 }, (_, fret) => riseShape(fret));

/**
 * How a string's error at a fret from 0 to 36 hangs on its nut offset and its rise when the saddle stands at share q, so that
 * `cents12 = -q t / kappa`: `e(n) = N (1 - g(n)) + R u(n) - (q t / kappa) g(n) = a N + b R`.
 */
export function errorFactors(fret: number, share: number): { readonly ofNut: number; readonly ofRise: number } {
  const leverage = leverages[fret]!;
  return {
    ofNut: 1 - leverage - ((share * (1 - kappa)) / kappa) * leverage,
    ofRise: shapes[fret]! - (share / kappa) * leverage,
  };
}

/** The errors at frets 1 to `frets` that a share leaves on the forecast string, each normal. */
export function neckErrors(forecast: StringForecast, share: number, frets: number): NormalError[] {
  const errors: NormalError[] = [];
  for (let fret = 1; fret <= frets; fret++) {
    const { ofNut, ofRise } = errorFactors(fret, share);
    const variance =
      ofNut * ofNut * forecast.nutVariance +
      ofRise * ofRise * forecast.riseVariance +
      2 * ofNut * ofRise * forecast.covariance;
    errors.push({ mean: ofNut * forecast.nut + ofRise * forecast.rise, sd: Math.sqrt(Math.max(0, variance)) });
  }
  return errors;
}
