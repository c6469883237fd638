import { saddleLeverage } from '../acoustics/frets.ts';
import { type FretReading, readingVariance, type StringEstimate } from './string-estimate.ts';

/**
 * How far a saddle really goes for what is asked of it, over what is stated: 1 where the screw is as stated. Normal.
 */
export interface Gain {
  readonly mean: number;
  readonly sd: number;
}

/** Before any move is seen: screws and hands differ by a third either way (common practice, no source). */
export const unknownGain: Gain = { mean: 1, sd: 0.33 };

/** How a saddle answered a move, in cents at the 12th. */
export interface Response {
  /** The pass that was asked for the move, and the one that shows the answer. */
  readonly from: number;
  readonly to: number;
  readonly predicted: number;
  readonly measured: number;
  readonly measuredSd: number;
  /** `measured / predicted`; null where no move was asked for. */
  readonly ratio: number | null;
  /** What the answer says about the move, worst first; `as-predicted` is the rule. */
  readonly verdict: 'as-predicted' | 'not-asked' | 'too-small-to-tell' | 'none' | 'wrong-way' | 'weak' | 'strong';
  /** Strings whose readings all shifted alike, as no saddle shifts them, with that shift in cents. */
  readonly openStrings: readonly { readonly string: number; readonly cents: number }[];
}

/** The answer is as predicted from the first to the second of these times the prediction. */
export const usualRatio = [0.6, 1.4] as const;

/** An open string is suspected from so many standard deviations on, and so many cents. */
const openLevel = 3;
const openLeastCents = 2;

/**
 * Compares what the readings at common frets did between two passes with what the move should have done. A saddle shifts the
 * note at fret n by s g(n); an open string that was not retuned shifts all alike. Shifts of several strings on one saddle are
 * averaged by their precision.
 *
 * @param predicted change at the 12th in cents that the move should have made; 0 where the saddle was to be left
 */
export function measureResponse(
  before: readonly StringEstimate[],
  after: readonly StringEstimate[],
  { predicted, from, to }: Pick<Response, 'predicted' | 'from' | 'to'>,
): Response | undefined {
  const shifts = after.flatMap((now) => {
    const then = before.find(({ string }) => string === now.string);
    const shift = then && shiftBetween(then.readings, now.readings, now.expectation.readingSd);
    return shift ? [{ string: now.string, ...shift }] : [];
  });
  if (shifts.length === 0) return undefined;
  const precision = shifts.reduce((sum, { variance }) => sum + 1 / variance, 0);
  const measured = shifts.reduce((sum, { cents, variance }) => sum + cents / variance, 0) / precision;
  const measuredSd = 1 / Math.sqrt(precision);
  return {
    from,
    to,
    predicted,
    measured,
    measuredSd,
    ratio: predicted === 0 ? null : measured / predicted,
    verdict: verdictOf(predicted, measured, measuredSd),
    openStrings: shifts.flatMap(({ string, open }) => (open === null ? [] : [{ string, cents: open }])),
  };
}

function verdictOf(predicted: number, measured: number, sd: number): Response['verdict'] {
  if (predicted === 0) return 'not-asked';
  const ratio = measured / predicted;
  const ratioSd = sd / Math.abs(predicted);
  if (ratio >= usualRatio[0] && ratio <= usualRatio[1]) return 'as-predicted';
  // Where reading noise alone reaches so far, nothing is said of screw or saddle.
  if (Math.abs(ratio - 1) < 2 * ratioSd) return 'too-small-to-tell';
  if (ratio < 0 && -ratio > 2 * ratioSd) return 'wrong-way';
  if (ratio < leastGain || ratio < 2 * ratioSd) return 'none';
  return ratio < 1 ? 'weak' : 'strong';
}

/** The shift at the 12th by the saddle, in cents, and that of all frets alike where it stands out. */
function shiftBetween(
  then: readonly FretReading[],
  now: readonly FretReading[],
  readingSd: number,
): { cents: number; variance: number; open: number | null } | undefined {
  let [gg, go, oo, gy, oy] = [0, 0, 0, 0, 0];
  for (const reading of now) {
    const earlier = then.find(({ fret }) => fret === reading.fret);
    if (!earlier) continue;
    const weight = 1 / (readingVariance(earlier, readingSd) + readingVariance(reading, readingSd));
    const leverage = saddleLeverage(reading.fret);
    const change = reading.cents - earlier.cents;
    gg += weight * leverage ** 2;
    go += weight * leverage;
    oo += weight;
    gy += weight * leverage * change;
    oy += weight * change;
  }
  if (gg === 0) return undefined;
  const determinant = gg * oo - go * go;
  if (determinant > 1e-9 * gg * oo) {
    const open = (gg * oy - go * gy) / determinant;
    if (Math.abs(open) > openLeastCents && Math.abs(open) > openLevel * Math.sqrt(gg / determinant))
      return { cents: (oo * gy - go * oy) / determinant, variance: oo / determinant, open };
  }
  return { cents: gy / gg, variance: 1 / gg, open: null };
}

/** Answers below and above these times the gain tell of another cause, and nothing of the screw. */
const leastGain = 0.25;
const mostGain = 3;

/**
 * What an answer teaches about the gain: the mean of what was thought and what was seen, each by its precision. An answer that
 * tells of another cause (no answer, the wrong way, an open string) teaches nothing.
 */
export function learnGain(gain: Gain, { ratio, predicted, measuredSd, openStrings }: Response): Gain {
  if (ratio === null || openStrings.length > 0) return gain;
  return learn(gain, { mean: ratio, sd: measuredSd / Math.abs(predicted) });
}

/** Standard deviation in mm of a saddle's move read off a rule at both ends (common practice, no source). */
const ruleSdMm = 0.1;

/** What a move that was asked for and measured with a rule teaches about the gain, as {@link learnGain}. */
export function learnGainByRule(gain: Gain, madeMm: number, askedMm: number): Gain {
  return askedMm === 0 ? gain : learn(gain, { mean: madeMm / askedMm, sd: ruleSdMm / Math.abs(askedMm) });
}

/** The move was asked for with the gain taken as known, so its answer counts in units of it. */
function learn(gain: Gain, answer: Gain): Gain {
  if (answer.mean < leastGain || answer.mean > mostGain) return gain;
  const [seen, seenSd] = [answer.mean * gain.mean, answer.sd * gain.mean];
  const [before, now] = [gain.sd ** -2, seenSd ** -2];
  return { mean: (gain.mean * before + seen * now) / (before + now), sd: Math.sqrt(1 / (before + now)) };
}
