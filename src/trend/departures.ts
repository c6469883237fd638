import { leftOver, type Spread, type StringMoments, stringModes } from './string-moments.ts';

/** How one string of one instrument stands against its model, other strings of the instrument taken into account. */
export interface StringDeparture {
  readonly string: number;
  /** Number of projected rows (readings less one per block). */
  readonly rows: number;
  /** Cents by which the string rises more than its model and the instrument's other strings foretell, and in units of its standard deviation. */
  readonly rise: number;
  readonly z: number;
  /** Squared Mahalanobis distance of the string's rows, the instrument's own deviation removed; chi-squared on `rows` degrees of freedom. */
  readonly distance: number;
  /** Squares left once the string's own nut and rise are fitted, over the reading variance, and their degrees of freedom. */
  readonly repeatSquares: number;
  readonly repeatDf: number;
}

/** How one instrument stands against its model. */
export interface InstrumentDeparture {
  /** Cents by which all its strings together rise more than the model, and in units of its standard deviation. */
  readonly rise: number;
  readonly z: number;
  readonly strings: readonly StringDeparture[];
}

/**
 * Standardised departures of one instrument and of its strings from its model.
 *
 * Rows of string s of an instrument are normal about the model's expectation with covariance
 * `sb^2 r r' + sc^2 r r' + sa^2 n n' + se^2 I`; the last three terms are inverted by the Woodbury identity.
 */
export function departure(strings: readonly StringMoments[], spread: Spread): InstrumentDeparture {
  const variance = spread.instrumentRise ** 2;
  const all = strings.map((moments) => whiten(moments, spread, spread.stringRise ** 2));
  const information = all.reduce((sum, { rr }) => sum + rr, 0);
  const score = all.reduce((sum, { ry }) => sum + ry, 0);
  /** Prediction of b from some of the strings. */
  const predict = (i: number, s: number): { mean: number; variance: number } =>
    variance === 0 ? { mean: 0, variance: 0 } : { mean: s / (i + 1 / variance), variance: 1 / (i + 1 / variance) };
  const own = predict(information, score);
  return {
    rise: information > 0 ? score / information : 0,
    z: information > 0 ? score / information / Math.sqrt(variance + 1 / information) : 0,
    strings: strings.map((moments, at) => {
      const here = all[at]!;
      const others = predict(information - here.rr, score - here.ry);
      const alone = whiten(moments, spread, 0);
      const tells = alone.rr > 1e-9;
      const rise = tells ? alone.ry / alone.rr - others.mean : 0;
      const sd = Math.sqrt(spread.stringRise ** 2 + (tells ? 1 / alone.rr : 1) + others.variance);
      const { squares, rank } = leftOver(moments);
      return {
        string: moments.string,
        rows: moments.rows,
        rise,
        z: rise / sd,
        distance: here.yy - 2 * own.mean * here.ry + own.mean ** 2 * here.rr,
        repeatSquares: squares / spread.reading ** 2,
        repeatDf: Math.max(0, moments.rows - rank),
      };
    }),
  };
}

/** `r'V^-1 r`, `r'V^-1 y`, `y'V^-1 y` for `V = X D X' + se^2 I`: `V^-1 = (I - X (se^2 I + D X'X)^-1 D X') / se^2`. */
function whiten(moments: StringMoments, spread: Spread, riseVariance: number): { rr: number; ry: number; yy: number } {
  const noise = spread.reading ** 2;
  const k = stringModes(moments, spread, riseVariance, { r: moments.rr, n: moments.rn });
  const y = stringModes(moments, spread, riseVariance);
  return {
    rr: (moments.rr - moments.rr * k.rise - moments.rn * k.nut) / noise,
    ry: (moments.ry - moments.ry * k.rise - moments.ny * k.nut) / noise,
    yy: (moments.yy - moments.ry * y.rise - moments.ny * y.nut) / noise,
  };
}
