import { saddleLeverage, stoppedMm } from './frets.ts';

/** A string's scale length and where its saddle stands, in mm; `setbackMm` is positive back, away from the neck. */
export interface SaddleGeometry {
  readonly scaleMm: number;
  readonly setbackMm: number;
}

/**
 * Error in cents of the note at an equal-tempered fret, open string in tune, by geometry alone:
 * `1200 log2(l0 / ln) - 100 n` with `l0 = L + c` and `ln = L 2^(-n/12) + c`. Positive is sharp.
 *
 * @throws {RangeError} when the saddle would stand at or before the fret
 */
export function frettedCents(fret: number, { scaleMm, setbackMm }: SaddleGeometry): number {
  const openMm = scaleMm + setbackMm;
  const soundingMm = stoppedMm(scaleMm, fret) + setbackMm;
  if (!(soundingMm > 0 && openMm > 0))
    throw new RangeError(
      `Cannot stop a ${scaleMm} mm string with setback ${setbackMm} mm at fret ${fret}; expected a saddle beyond the fret`,
    );
  return 1200 * Math.log2(openMm / soundingMm) - 100 * fret;
}

/**
 * Change in cents at a fret when the saddle moves back by `moveMm` (forward when negative) and the open string is
 * retuned; the difference of two {@link frettedCents}, exact for any move.
 */
export function moveCents(fret: number, moveMm: number, from: SaddleGeometry): number {
  return frettedCents(fret, { ...from, setbackMm: from.setbackMm + moveMm }) - frettedCents(fret, from);
}

/**
 * The saddle move in mm (positive back) that changes the note at a fret by `changeCents`, exactly.
 *
 * From `2^((e + 100 n) / 1200) = l0 / ln` at the new setback `c`: with `r = 2^((e + 100 n)/1200)`,
 * `c = L (1 - r 2^(-n/12)) / (r - 1)`.
 *
 * @throws {RangeError} at fret 0, where no saddle move changes the retuned open string, or when no setback gives the change
 */
export function moveForCents(fret: number, changeCents: number, from: SaddleGeometry): number {
  const wanted = frettedCents(fret, from) + changeCents;
  const ratio = 2 ** ((wanted + 100 * fret) / 1200);
  const setbackMm = (from.scaleMm * (1 - ratio * 2 ** (-fret / 12))) / (ratio - 1);
  if (!(fret > 0 && ratio > 1 && stoppedMm(from.scaleMm, fret) + setbackMm > 0))
    throw new RangeError(
      `Cannot change fret ${fret} by ${changeCents} cents with the saddle; expected a fret from 1 and a reachable change`,
    );
  return setbackMm - from.setbackMm;
}

/** First-order change in cents at a fret for a saddle move of `moveMm` back: `-(1200 / ln 2)(d / L) g(n)`. */
export function moveCentsLinear(fret: number, moveMm: number, scaleMm: number): number {
  return -((1200 / Math.LN2) * moveMm * saddleLeverage(fret)) / scaleMm;
}
