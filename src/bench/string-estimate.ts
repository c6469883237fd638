import { kappa, riseShape, saddleLeverage } from '../acoustics/frets.ts';
import { rise as riseOf } from '../acoustics/rise.ts';
import { invariant } from '../policy/neck.ts';
import { windowCents } from '../policy/standard.ts';
import { type BlockSums, meanAt } from '../sources/block-sums.ts';
import { projectSaddle } from '../trend/contrast-rows.ts';
import { finestScatter, stringModes, stringMoments, type StringMoments } from '../trend/string-moments.ts';
import { type Expectation, expectedInvariant } from './expectation.ts';

/** Readings of one string at one fret: their mean in cents, their number, and the step of the display (0: not stated). */
export interface FretReading {
  readonly fret: number;
  readonly cents: number;
  readonly count: number;
  readonly stepCents: number;
}

/** What is known of one string after a pass, in cents. */
export interface StringEstimate {
  readonly string: number;
  readonly expectation: Expectation;
  readonly readings: readonly FretReading[];
  /** Mean reading at the 12th and the 17th; null where it was not read. */
  readonly read12: number | null;
  readonly read17: number | null;
  /** `t = cents17 - kappa cents12` as read; null unless both were. */
  readonly measured: number | null;
  /** What the standard expects t to be, and how far from it 95 of 100 sound strings are read. */
  readonly expected: number;
  readonly usual: number;
  /** t after shrinkage: what was expected and what was read, each by its precision. */
  readonly shrunk: number;
  /** How far the readings are trusted, 0 to 1: the part of the uncertainty about t that they take away. */
  readonly reliability: number;
  /** Nut offset and rise behind `shrunk`, with variances and covariance. */
  readonly nut: number;
  readonly rise: number;
  readonly nutVariance: number;
  readonly riseVariance: number;
  readonly covariance: number;
  /** The 12th as it stands: as read, or from the 17th and the expected rise; null where neither was read. */
  readonly twelfth: number | null;
  /** What the 12th should read: `-q t / kappa`. */
  readonly target: number;
  /** How close to its target the 12th is close enough. */
  readonly window: number;
}

/**
 * Estimates every string of one instrument read at one pass.
 *
 * A reading at fret n is `N + R u(n) + s g(n) + e` with nut offset N and rise R normal as the standard expects them, s where
 * the saddle stands, of which nothing is presumed, and e of variance `sigma^2 / repeats + step^2 / 12`. With the 12th and
 * the 17th alone the estimate of t is `expected + r (measured - expected)`, with the reliability r the variance of t between
 * instruments over that plus `(1 + kappa^2) sigma^2`; readings at other frets join in.
 *
 * @param sums one block a string, all of one instrument and pass
 * @param expectations by string number; strings without one are left out
 */
export function estimateStrings(sums: BlockSums, expectations: ReadonlyMap<number, Expectation>): StringEstimate[] {
  return Array.from(sums.blockString).flatMap((string, block) => {
    const expectation = expectations.get(string);
    return expectation ? [estimateString(sums, block, expectation)] : [];
  });
}

function estimateString(sums: BlockSums, block: number, expectation: Expectation): StringEstimate {
  const readings = fretReadings(sums, block);
  const [read12, read17] = [meanAt(sums, block, 12) ?? null, meanAt(sums, block, 17) ?? null];
  const sigma = Math.max(expectation.readingSd, finestScatter);
  const modes = riseModes(sums, block, expectation, sigma);
  const shrunk = invariant(modes.nut, modes.rise);
  const of = (nutVariance: number, riseVariance: number, covariance: number): number =>
    riseVariance + (1 - kappa) ** 2 * nutVariance + 2 * (1 - kappa) * covariance;
  const before = of(expectation.nutSd ** 2, expectation.riseSd ** 2, 0);
  const after = of(modes.nutVariance, modes.riseVariance, modes.covariance);
  const readVariance = (fret: number): number => {
    const reading = readings.find((one) => one.fret === fret);
    return reading ? readingVariance(reading, expectation.readingSd) : 0;
  };
  const twelfth = read12 ?? (read17 === null ? null : (read17 - shrunk) / kappa);
  const step = Math.max(...readings.map(({ stepCents }) => stepCents));
  const window = step > 0 ? windowCents(expectation.readingSd, step) : expectation.window;
  return {
    string: sums.blockString[block]!,
    expectation,
    readings,
    read12,
    read17,
    measured: read12 === null || read17 === null ? null : riseOf(read12, read17),
    expected: expectedInvariant(expectation),
    usual: 1.96 * Math.sqrt(before + readVariance(12) * kappa ** 2 + readVariance(17)),
    shrunk,
    reliability: before > 0 ? 1 - after / before : 0,
    ...modes,
    twelfth,
    target: (-expectation.share * shrunk) / kappa,
    // A 12th that was not read is known from the 17th less well: t is uncertain by its variance.
    window: read12 === null ? Math.hypot(window / kappa, (1.96 * Math.sqrt(after)) / kappa) : window,
  };
}

function fretReadings(sums: BlockSums, block: number): FretReading[] {
  const byFret = new Map<number, { sum: number; count: number; stepCents: number }>();
  for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++) {
    const at = byFret.get(sums.cellFret[cell]!) ?? { sum: 0, count: 0, stepCents: 0 };
    byFret.set(sums.cellFret[cell]!, at);
    at.sum += sums.cellMean[cell]! * sums.cellCount[cell]!;
    at.count += sums.cellCount[cell]!;
    at.stepCents = Math.max(at.stepCents, sums.cellResolution[cell]!);
  }
  return [...byFret].map(([fret, { sum, count, stepCents }]) => ({ fret, cents: sum / count, count, stepCents }));
}

type Modes = Pick<StringEstimate, 'nut' | 'rise' | 'nutVariance' | 'riseVariance' | 'covariance'>;

/**
 * Posterior of nut offset and rise, the saddle projected out. Its covariance is `sigma^2 (sigma^2 I + D X'X)^-1 D`, of which
 * `stringModes` gives a column at a time.
 */
function riseModes(sums: BlockSums, block: number, expectation: Expectation, sigma: number): Modes {
  const own = residualMoments(sums, expectation, sigma).find(({ string }) => string === sums.blockString[block]);
  const moments = own ?? { string: 0, rows: 0, rr: 0, rn: 0, nn: 0, ry: 0, ny: 0, yy: 0 };
  const spread = { instrumentRise: 0, stringRise: 0, stringNut: expectation.nutSd, reading: sigma };
  const solve = (v?: { readonly r: number; readonly n: number }): { rise: number; nut: number } =>
    stringModes(moments, spread, expectation.riseSd ** 2, v);
  const [mode, ofRise, ofNut] = [solve(), solve({ r: 1, n: 0 }), solve({ r: 0, n: 1 })];
  return {
    nut: expectation.nut + mode.nut,
    rise: expectation.rise + mode.rise,
    nutVariance: sigma ** 2 * ofNut.nut,
    riseVariance: sigma ** 2 * ofRise.rise,
    covariance: sigma ** 2 * ofRise.nut,
  };
}

/** Moments of the projected rows of every string against one expectation. */
function residualMoments(sums: BlockSums, { nut, rise }: Expectation, sigma: number): StringMoments[] {
  const rows = projectSaddle(sums, sigma);
  const residual = rows.response.map((response, row) => response - nut * rows.nut[row]! - rise * rows.rise[row]!);
  return stringMoments(sums, rows, residual)[0]!;
}

/**
 * The error of a string at a fret if its 12th read `twelfth`, normal in cents: nut offset and rise as estimated, the saddle
 * where it makes the 12th so. What is unknown is N, R and, given these, where the saddle stands: `s = a - bN N - bR R` from
 * the readings by least squares, with variance `1 / sum w g^2`.
 */
export function errorAt(fret: number, twelfth: number, estimate: StringEstimate): { mean: number; sd: number } {
  const { nut, rise, nutVariance, riseVariance, covariance, readings, expectation } = estimate;
  const [g, u] = [saddleLeverage(fret), riseShape(fret)];
  let [gg, gOne, gu] = [0, 0, 0];
  for (const reading of readings) {
    const weight = 1 / readingVariance(reading, expectation.readingSd);
    const leverage = saddleLeverage(reading.fret);
    gg += weight * leverage ** 2;
    gOne += weight * leverage;
    gu += weight * leverage * riseShape(reading.fret);
  }
  const [ofNut, ofRise] = [1 - (gOne / gg) * g, u - (gu / gg) * g];
  const variance =
    ofNut ** 2 * nutVariance + ofRise ** 2 * riseVariance + 2 * ofNut * ofRise * covariance + g ** 2 / gg;
  return { mean: nut * (1 - g) + rise * u + twelfth * g, sd: Math.sqrt(variance) };
}

/** Variance of the mean of the readings at a fret: scatter over their number, and the rounding of the display. */
export function readingVariance({ count, stepCents }: FretReading, readingSd: number): number {
  return Math.max(readingSd, finestScatter) ** 2 / count + stepCents ** 2 / 12;
}
