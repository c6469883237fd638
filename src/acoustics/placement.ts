/** Where the frets of one string stand, in mm. */
export interface Placement {
  /** Distance from nut to saddle before either is set back. */
  readonly scaleMm: number;
  /** Distance from the nut to each fret, by fret number: 0 for the nut itself, then strictly increasing. */
  readonly nutToFretMm: readonly number[];
}

/** How far nut and saddle stand outside the scale length, in mm; positive lengthens the open string. */
export interface Ends {
  /** Saddle back, away from the neck. */
  readonly setbackMm: number;
  /** Nut back, away from the saddle; negative for a nut compensated forward, toward the frets. */
  readonly nutSetbackMm: number;
}

/** Nut and saddle at the scale length exactly. */
export const noSetback: Ends = { setbackMm: 0, nutSetbackMm: 0 };

/** The rule of eighteen: each fret leaves 17/18 of the length before it. */
export const ruleOfEighteen: number = 17 / 18;

/**
 * Frets 0 to `frets` in equal temperament: fret n leaves `L 2^(-n/12)`.
 *
 * @throws {RangeError} when the number of frets is not whole, or the scale length not positive
 */
export function equalPlacement(scaleMm: number, frets: number): Placement {
  return temperedPlacement(
    scaleMm,
    eachFret(frets, (fret) => 100 * fret),
  );
}

/**
 * Frets that each leave the same part of the length before it, such as {@link ruleOfEighteen}.
 *
 * @throws {RangeError} when the ratio is not between 0 and 1, the number of frets not whole, or the scale length not positive
 */
export function ratioPlacement(scaleMm: number, frets: number, ratio: number): Placement {
  if (!(ratio > 0 && ratio < 1))
    throw new RangeError(`Cannot place frets by the ratio ${ratio}; expected one between 0 and 1, such as 17/18`);
  return measuredPlacement(
    scaleMm,
    eachFret(frets, (fret) => scaleMm * (1 - ratio ** fret)),
  );
}

function eachFret(frets: number, value: (fret: number) => number): number[] {
  if (!(Number.isInteger(frets) && frets >= 0))
    throw new RangeError(`Cannot place ${frets} frets; expected a whole number from 0`);
  return Array.from({ length: frets }, (_, at) => value(at + 1));
}

/**
 * Frets for any temperament: fret n leaves `L 2^(-c/1200)` for an interval of c cents over the open string.
 *
 * @param fretCents interval of each fret from fret 1, in cents, strictly increasing
 */
export function temperedPlacement(scaleMm: number, fretCents: readonly number[]): Placement {
  fretCents.forEach((interval, at) => {
    const before = fretCents[at - 1] ?? 0;
    if (!(interval > before && interval < Infinity))
      throw new RangeError(
        `Cannot place fret ${at + 1} at ${interval} cents; expected more than the ${before} cents before it`,
      );
  });
  return measuredPlacement(
    scaleMm,
    fretCents.map((interval) => scaleMm * (1 - 2 ** (-interval / 1200))),
  );
}

/**
 * Frets where they were measured.
 *
 * @param nutToFretMm distance of each fret from the nut, from fret 1, in mm
 * @throws {RangeError} when the scale length is not positive, distances do not increase, a fret stands at or beyond the
 * scale length, or a distance and the scale length cannot be in one unit (inches beside millimetres); the message names the fret
 */
export function measuredPlacement(scaleMm: number, nutToFretMm: readonly number[]): Placement {
  if (!(scaleMm > 0 && scaleMm < Infinity))
    throw new RangeError(`Cannot place frets on a scale length of ${scaleMm} mm; expected more than 0`);
  const inInches = nutToFretMm.findLastIndex((mm, at) => isInInches(at + 1, mm, scaleMm));
  if (inInches >= 0)
    throw new RangeError(
      `Cannot place frets: fret ${inInches + 1} at ${nutToFretMm[inInches]!} of a scale length of ${scaleMm} mm looks like inches; multiply by 25.4`,
    );
  nutToFretMm.forEach((mm, at) => {
    const before = nutToFretMm[at - 1] ?? 0;
    if (!(mm > before))
      throw new RangeError(
        `Cannot place fret ${at + 1} at ${mm} mm from the nut; expected more than ${before} mm, where ${at === 0 ? 'the nut' : `fret ${at}`} stands`,
      );
    if (!(mm < scaleMm))
      throw new RangeError(
        `Cannot place fret ${at + 1} at ${mm} mm from the nut; expected less than the scale length of ${scaleMm} mm`,
      );
  });
  return { scaleMm, nutToFretMm: [0, ...nutToFretMm] };
}

/** The scale length in mm that one fret implies where it stands in equal temperament: `x / (1 - 2^(-n/12))`. */
export function impliedScaleMm(fret: number, nutToFretMm: number): number {
  return nutToFretMm / (1 - 2 ** (-fret / 12));
}

/**
 * Whether a distance from the nut makes sense in inches and none in millimetres: the scale length it implies is within a
 * factor 1.5 of the string's over 25.4. No temperament in use comes near that factor at any fret.
 */
export function isInInches(fret: number, nutToFretMm: number, scaleMm: number): boolean {
  const part = impliedScaleMm(fret, nutToFretMm) / scaleMm;
  return part * 25.4 > 1 / 1.5 && part * 25.4 < 1.5;
}

/**
 * Error in cents of the note at a fret against equal temperament, open string in tune, by lengths alone:
 * `1200 log2(l0 / ln) - 100 n` with `l0 = L + c + a` and `ln = L - x_n + c`, for a fret x_n from the nut, a saddle set back by
 * c and a nut set back by a. Positive is sharp.
 *
 * @throws {RangeError} for a fret that the placement lacks, a saddle at or before the fret, or a nut at or beyond it
 */
export function placedCents(fret: number, { scaleMm, nutToFretMm }: Placement, ends: Ends = noSetback): number {
  const fretMm = nutToFretMm[fret];
  if (fretMm === undefined)
    throw new RangeError(`Cannot stop a string at fret ${fret}; expected a fret from 0 to ${nutToFretMm.length - 1}`);
  const openMm = scaleMm + ends.setbackMm + ends.nutSetbackMm;
  const stopped = scaleMm - fretMm + ends.setbackMm;
  if (!(stopped > 0 && openMm > 0))
    throw new RangeError(
      `Cannot stop a ${scaleMm} mm string with setback ${ends.setbackMm} mm at fret ${fret}; expected a saddle beyond the fret`,
    );
  if (fret > 0 && !(fretMm + ends.nutSetbackMm > 0))
    throw new RangeError(
      `Cannot stop a string at fret ${fret}, ${fretMm} mm from a nut set back by ${ends.nutSetbackMm} mm; expected a nut before the fret`,
    );
  return 1200 * Math.log2(openMm / stopped) - 100 * fret;
}

/** One string for a prediction; each string of a fanned fingerboard has its own scale length and distances. */
export interface PlacedString {
  readonly placement: Placement;
  readonly ends?: Ends;
}

/** Where a fret stands under a string, and what that makes of its note. */
export interface PlacedNote {
  readonly string: number;
  readonly fret: number;
  readonly nutToFretMm: number;
  /** Error in cents, see {@link placedCents}. */
  readonly cents: number;
}

/** Every string and fret with its error in cents, strings in order from string 1, fret 0 left out. */
export function placedNotes(strings: readonly PlacedString[]): PlacedNote[] {
  return strings.flatMap(({ placement, ends }, at) =>
    placement.nutToFretMm
      .map((nutToFretMm, fret) => ({
        string: at + 1,
        fret,
        nutToFretMm,
        cents: placedCents(fret, placement, ends),
      }))
      .slice(1),
  );
}

/** What an error of place costs at one fret, in cents. */
export interface Tolerance {
  readonly fret: number;
  /** The fret alone stands that much too near the saddle. */
  readonly fretCents: number;
  /** The saddle stands that much too near the frets, open string in tune. */
  readonly saddleCents: number;
  /** The nut stands that much too far from the frets, open string in tune: the same at every fret. */
  readonly nutCents: number;
}

/**
 * How many cents an error of place makes at each fret from fret 1, exactly; all three sharpen. To first order
 * `(1200 / ln 2) e / ln` for the fret, `(1200 / ln 2) e (1/ln - 1/l0)` for the saddle and `(1200 / ln 2) e / l0` for the nut.
 *
 * @param errorMm the error of place, by default a tenth of a millimetre
 */
export function tolerances(placement: Placement, ends: Ends = noSetback, errorMm = 0.1): Tolerance[] {
  const moved = { ...placement, nutToFretMm: placement.nutToFretMm.map((mm) => mm + errorMm) };
  return placement.nutToFretMm.slice(1).map((_, at) => {
    const fret = at + 1;
    const now = placedCents(fret, placement, ends);
    return {
      fret,
      fretCents: placedCents(fret, moved, ends) - now,
      saddleCents: placedCents(fret, placement, { ...ends, setbackMm: ends.setbackMm - errorMm }) - now,
      nutCents: placedCents(fret, placement, { ...ends, nutSetbackMm: ends.nutSetbackMm + errorMm }) - now,
    };
  });
}
