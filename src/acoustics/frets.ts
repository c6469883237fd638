/**
 * How strongly a saddle move tells at a fret, relative to the 12th: `g(n) = 2^(n/12) - 1`, so g(0) = 0 and g(12) = 1.
 *
 * To first order a setback `d` (mm back) on scale length `L` shifts the fretted note by `-(1200 / ln 2)(d / L) g(n)` cents.
 */
export function saddleLeverage(fret: number): number {
  return 2 ** (fret / 12) - 1;
}

/** `kappa = g(17) / g(12) = 2^(17/12) - 1 = 1.66968`: a saddle move counts this many times as much at the 17th as at the 12th. */
export const kappa: number = saddleLeverage(17) / saddleLeverage(12);

/** Shape of the upper-neck rise: `u(n) = max(0, n - 12) / 5`, nothing up to the 12th fret and 1 at the 17th. */
export function riseShape(fret: number): number {
  return Math.max(0, fret - 12) / 5;
}

/** Length in mm from saddle to an equal-tempered fret, for a string of nominal scale length `scaleMm`. */
export function stoppedMm(scaleMm: number, fret: number): number {
  return scaleMm * 2 ** (-fret / 12);
}
