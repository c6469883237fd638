import { equalPlacement, type Placement } from '../acoustics/placement.ts';
import { halfWidth, twoSidedP } from '../statistics/distributions.ts';
import { fitLinear, type LinearEstimate } from '../statistics/least-squares.ts';
import { holm } from '../statistics/multiplicity.ts';

/** A caliper reading: distance from nut to fret in mm. Several of one fret are repeats. */
export interface CaliperReading {
  readonly fret: number;
  readonly nutToFretMm: number;
}

/** What is known beside the readings. */
export interface PlacementAssumptions {
  /** The rule the frets were laid out by; only proportions count. Equal temperament where none is given. */
  readonly pattern?: Placement;
  /** Standard deviation of one reading in mm, where it is known; else repeats tell it, or the other frets. */
  readonly readingSdMm?: number;
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
}

/** How far one fret stands from where the fitted pattern has it. */
export interface FretError {
  readonly fret: number;
  readonly readings: number;
  /** Mean of its readings, and where the pattern puts it, in mm from the nut. */
  readonly meanMm: number;
  readonly patternMm: number;
  /** Positive is toward the saddle. */
  readonly errorMm: number;
  readonly lowMm: number;
  readonly highMm: number;
  /** What that does to its notes, in cents: positive is sharp. */
  readonly cents: number;
  readonly lowCents: number;
  readonly highCents: number;
  /** p of so large an error by reading alone, and adjusted for as many frets as there are (Holm). */
  readonly p: number;
  readonly adjustedP: number;
}

/** How one string's frets were laid out, as caliper readings tell it. */
export interface PlacementFit {
  /** Scale length that the frets imply, in mm. */
  readonly scaleMm: LinearEstimate;
  /** How far the nut stands behind where the pattern begins, in mm: positive makes the open string too long. */
  readonly nutSetbackMm: LinearEstimate;
  /** Standard deviation of the frets' means about the pattern, in mm; reading error is in it. */
  readonly spreadMm: number;
  /** Standard deviation of one reading in mm that the frets' intervals rest on, and where it is from. */
  readonly readingSdMm: number;
  readonly readingSdFrom: 'given' | 'repeats' | 'other frets';
  readonly frets: readonly FretError[];
}

/**
 * Least-squares fit of `y = a + S u(n)` to the mean readings of each fret, `u(n)` the pattern's part of the scale length; a is
 * the nut's setback and S the scale length.
 *
 * Intervals of a and S hold for the design, with frets that scatter about it: they come from the residuals. Those of a fret's
 * error hold for this instrument, whose best pattern is the one fitted to its true positions; they come from the error of
 * reading alone. Where nothing tells that (no repeats, none given) a fret is judged by the scatter of all the others.
 *
 * @throws {RangeError} for a reading that is not positive or whose fret the pattern lacks, or fewer than 4 different frets
 */
export function fitPlacement(
  readings: readonly CaliperReading[],
  { pattern, readingSdMm, level = 0.95 }: PlacementAssumptions = {},
): PlacementFit {
  const frets = [...new Set(readings.map(({ fret }) => fret))].sort((a, b) => a - b);
  const law = pattern ?? equalPlacement(1, Math.max(1, ...frets.filter(Number.isInteger)));
  for (const { fret, nutToFretMm } of readings) {
    if (!(nutToFretMm > 0 && nutToFretMm < Infinity))
      throw new RangeError(`Cannot fit fret ${fret} at ${nutToFretMm} mm from the nut; expected more than 0`);
    if (!(Number.isInteger(fret) && fret >= 1 && fret in law.nutToFretMm))
      throw new RangeError(
        `Cannot fit fret ${fret}; expected a whole number from 1${pattern ? ` to ${law.nutToFretMm.length - 1}` : ''}`,
      );
  }
  if (frets.length < 4)
    throw new RangeError(`Cannot fit a placement to ${frets.length} different frets; expected at least 4`);
  if (readingSdMm !== undefined && !(readingSdMm > 0 && readingSdMm < Infinity))
    throw new RangeError(`Cannot fit with a reading error of ${readingSdMm} mm; expected more than 0`);

  const repeats = frets.map((one) => readings.flatMap(({ fret, nutToFretMm }) => (fret === one ? [nutToFretMm] : [])));
  const means = repeats.map((values) => values.reduce((sum, value) => sum + value, 0) / values.length);
  const parts = frets.map((fret) => law.nutToFretMm[fret]! / law.scaleMm);
  const fit = fitLinear(
    { response: means, names: ['nut setback', 'scale length'], columns: [parts.map(() => 1), parts] },
    level,
  );
  const [nutSetbackMm, scaleMm] = fit.coefficients as [LinearEstimate, LinearEstimate];
  const error = readingError(repeats, readingSdMm);
  const remainders = remainderWeights(parts);
  const judged = frets.map((fret, at): Omit<FretError, 'adjustedP'> & { readonly p: number } => {
    const errorMm = fit.residuals[at]!;
    // Each mean carries sd^2 / repeats of reading error, and a residual is a weighted sum of all means.
    const reach = error
      ? Math.sqrt(remainders[at]!.reduce((sum, weight, other) => sum + weight ** 2 / repeats[other]!.length, 0))
      : Math.sqrt(remainders[at]![at]!);
    const { sd, df } = error ?? withoutFret(fit.residualSquares, errorMm, remainders[at]![at]!, fit.df);
    const half = halfWidth(level, df) * sd * reach;
    const centsOf = (mm: number): number => sharpening(mm, scaleMm.estimate * (1 - parts[at]!));
    const t = errorMm === 0 ? 0 : errorMm / (sd * reach);
    return {
      fret,
      readings: repeats[at]!.length,
      meanMm: means[at]!,
      patternMm: fit.fitted[at]!,
      ...{ errorMm, lowMm: errorMm - half, highMm: errorMm + half },
      ...{ cents: centsOf(errorMm), lowCents: centsOf(errorMm - half), highCents: centsOf(errorMm + half) },
      p: twoSidedP(t, df),
    };
  });
  const adjusted = holm(judged.map(({ p }) => p));
  return {
    scaleMm,
    nutSetbackMm,
    spreadMm: fit.sigma,
    readingSdMm: error?.sd ?? fit.sigma,
    readingSdFrom: readingSdMm !== undefined ? 'given' : error ? 'repeats' : 'other frets',
    frets: judged.map((fret, at) => ({ ...fret, adjustedP: adjusted[at]! })),
  };
}

interface ReadingError {
  readonly sd: number;
  readonly df: number;
}

/** Standard deviation of one reading: the one given, else pooled within frets; null without repeats that differ. */
function readingError(repeats: readonly (readonly number[])[], given: number | undefined): ReadingError | null {
  if (given !== undefined) return { sd: given, df: Infinity };
  let [squares, df] = [0, 0];
  for (const values of repeats) {
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    for (const value of values) squares += (value - mean) ** 2;
    df += values.length - 1;
  }
  return squares > 0 ? { sd: Math.sqrt(squares / df), df } : null;
}

/**
 * Residual standard deviation of a fit that leaves one point out: `s_i^2 = (SSR - e_i^2 / (1 - h_i)) / (n - p - 1)`; what is
 * studentised by it follows Student's t. Cook & Weisberg (1982), Residuals and Influence in Regression, section 2.2 (from memory).
 */
function withoutFret(squares: number, residual: number, remainder: number, df: number): ReadingError {
  return { sd: Math.sqrt(Math.max(0, squares - residual ** 2 / remainder) / (df - 1)), df: df - 1 };
}

/** Rows of I - H of a straight line on x: `h_ij = 1/n + (x_i - m)(x_j - m) / sum (x - m)^2`. */
function remainderWeights(x: readonly number[]): number[][] {
  const mean = x.reduce((sum, value) => sum + value, 0) / x.length;
  const squares = x.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return x.map((one, i) =>
    x.map((other, j) => (i === j ? 1 : 0) - 1 / x.length - ((one - mean) * (other - mean)) / squares),
  );
}

/** Cents by which a stopped length of `stoppedMm` rises when its fret stands `mm` nearer the saddle. */
function sharpening(mm: number, stoppedMm: number): number {
  return 1200 * Math.log2(stoppedMm / (stoppedMm - mm));
}
