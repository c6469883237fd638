import { frettedNote, type Setup, type StringEnds } from './fretting.ts';
import type { Ends } from './placement.ts';
import type { StringResponse } from './string-physics.ts';

/** What may be set to make fretted notes right. */
export type Compensated = 'saddle' | 'saddle and nut';

/** Where saddle and nut must stand, and what is left at the frets they were chosen for. */
export interface Compensation extends Ends {
  readonly errors: readonly { readonly fret: number; readonly cents: number }[];
  /** Root mean square of those errors, in cents. */
  readonly rmsCents: number;
}

/** Steps end when they move the ends by less than this, in mm; rounding of the lengths leaves about 1e-10. */
const settledMm = 1e-8;
/** From any setup that is near a playable one, five steps are plenty. */
const mostSteps = 50;
const differenceMm = 1e-3;
/** No saddle or nut stands farther from its place than this part of the scale length: what asks for more is not playable. */
const farthestPart = 1 / 20;

/**
 * The setbacks with the least squared error over some frets, all counted alike: exactly none where there are as many frets as
 * things to set. By Gauss-Newton steps on {@link frettedNote}, from where the setup has them.
 *
 * @param choice `frets` from 1, each once; `set` what may be moved (the saddle alone leaves the nut where it is)
 * @throws {RangeError} when there are fewer frets than things to set, or no setbacks are found
 */
export function compensate(
  string: StringResponse,
  setup: Setup,
  {
    frets,
    set,
    stringEnds,
  }: { readonly frets: readonly number[]; readonly set: Compensated; readonly stringEnds?: StringEnds },
): Compensation {
  const unknowns = set === 'saddle' ? 1 : 2;
  if (frets.length < unknowns || new Set(frets).size < frets.length || frets.includes(0))
    throw new RangeError(
      `Cannot choose ${set} for frets ${frets.join(', ') || 'none'}; expected ${unknowns} or more, each once, from fret 1`,
    );
  const errors = ({ setbackMm, nutSetbackMm }: Ends): number[] =>
    frets.map((fret) => frettedNote(fret, string, { ...setup, setbackMm, nutSetbackMm }, stringEnds).total);
  let ends: Ends = { setbackMm: setup.setbackMm, nutSetbackMm: setup.nutSetbackMm };
  const farthestMm = farthestPart * setup.placement.scaleMm;
  for (let step = 0; ; step++) {
    if (step === mostSteps || !(Math.max(Math.abs(ends.setbackMm), Math.abs(ends.nutSetbackMm)) <= farthestMm))
      throw new RangeError(
        `Found no place for ${set} that makes frets ${frets.join(', ')} right; expected one within ${farthestMm} mm of the scale length. Check the string and the heights`,
      );
    const now = errors(ends);
    const slope = (end: keyof Ends): number[] => {
      const [up, down] = [differenceMm, -differenceMm].map((mm) => errors({ ...ends, [end]: ends[end] + mm }));
      return up!.map((value, at) => (value - down![at]!) / (2 * differenceMm));
    };
    const saddle = slope('setbackMm');
    const move =
      set === 'saddle'
        ? { setbackMm: -dot(saddle, now) / dot(saddle, saddle), nutSetbackMm: 0 }
        : leastSquares(saddle, slope('nutSetbackMm'), now);
    ends = { setbackMm: ends.setbackMm + move.setbackMm, nutSetbackMm: ends.nutSetbackMm + move.nutSetbackMm };
    if (Math.hypot(move.setbackMm, move.nutSetbackMm) < settledMm) break;
  }
  const left = errors(ends);
  return {
    ...ends,
    errors: frets.map((fret, at) => ({ fret, cents: left[at]! })),
    rmsCents: Math.sqrt(dot(left, left) / left.length),
  };
}

/** The step that brings `now + step a + step b` nearest to nothing, by the normal equations of two unknowns. */
function leastSquares(a: readonly number[], b: readonly number[], now: readonly number[]): Ends {
  const [aa, ab, bb] = [dot(a, a), dot(a, b), dot(b, b)];
  const [an, bn] = [dot(a, now), dot(b, now)];
  const determinant = aa * bb - ab * ab;
  return { setbackMm: (ab * bn - bb * an) / determinant, nutSetbackMm: (ab * an - aa * bn) / determinant };
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, at) => sum + value * b[at]!, 0);
}
