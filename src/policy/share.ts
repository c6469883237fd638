import { evenShare } from '../acoustics/rise.ts';
import { goldenSection } from '../statistics/golden-section.ts';
import { expectedCost, type Loss } from './loss.ts';
import { neckErrors, type StringForecast } from './neck.ts';

/** The strings that one saddle carries, and how often each is played at frets 1, 2, ...: weights that sum to 1. */
export interface SaddleStrings {
  readonly forecasts: readonly StringForecast[];
  readonly usage: readonly ArrayLike<number>[];
}

/** Differences in expected cost below this many cents would not change a standard (the design's own line for regret). */
export const negligibleCents = 0.1;

/**
 * Among shares whose costs differ by less than this, in cents, the errors over the whole neck decide. Wider, and rules of thumb
 * begin to leave less that is audible; narrower, and rare errors at the last frets settle the share
 * (`test/studies/backtest-shops.ts` tells what each leaves).
 */
export const alikeCents = 0.03;

export interface ShareChoice {
  /** q in [0, 1]: 0 makes the 12th exact, 1 the 17th. */
  readonly share: number;
  /** 95 % of the shares that would be best if the model's true rise were known, over what it may be. */
  readonly low: number;
  readonly high: number;
  /** Every share from here to there costs less than `negligibleCents` more than the least. */
  readonly fineLow: number;
  readonly fineHigh: number;
  /** Whether the best share lay beyond one end and was moved to it. */
  readonly clipped: 'no' | 'at the 12th' | 'at the 17th';
  /** Expected cost of this share, in cents (see `expectedCost`). */
  readonly cost: number;
  /** Expected cost in cents of not knowing the model's true nut offset and rise: this share's cost less the best one's. */
  readonly regret: number;
}

/** Expected cost in cents of a share for all strings on one saddle: root mean square over strings, or the worst for minimax. */
export function saddleCost(share: number, { forecasts, usage }: SaddleStrings, loss: Loss): number {
  let [worst, squares] = [0, 0];
  for (let at = 0; at < forecasts.length; at++) {
    const weights = usage[at]!;
    const cost = expectedCost(neckErrors(forecasts[at]!, share, weights.length), weights, loss);
    worst = Math.max(worst, cost);
    squares += cost * cost;
  }
  return loss.kind === 'minimax' ? worst : Math.sqrt(squares / forecasts.length);
}

/**
 * Chooses the share of least expected cost. The cost is convex in q (each loss is convex in the error and the error is
 * linear in q), so golden-section search finds the one minimum.
 *
 * The audible loss is all but flat wherever errors stay under its threshold; its minimum would then be set by rare errors at
 * the last frets. So among the shares that cost less than `alikeCents` more than the least, which no ear could tell
 * apart, the one with the least mean square error is taken.
 *
 * @param saddle   forecasts of the next instrument: spread between instruments and what is unknown of the model together
 * @param possible equally likely cases of what the model may truly be; per case the same strings with the case's means and
 *                 the spread between instruments alone
 */
export function chooseShare(
  saddle: SaddleStrings,
  possible: readonly (readonly StringForecast[])[],
  loss: Loss,
): ShareChoice {
  const precision = 1e-5;
  const { share, wanted, least } = decide(saddle, loss, precision);
  const bests: number[] = [];
  let regret = 0;
  for (const forecasts of possible) {
    const known = { ...saddle, forecasts };
    const ifKnown = decide(known, loss, 1e-3);
    bests.push(ifKnown.share);
    regret += (saddleCost(share, known, loss) - saddleCost(ifKnown.share, known, loss)) / possible.length;
  }
  bests.sort((a, b) => a - b);
  const quantile = (p: number): number => bests[Math.round(p * (bests.length - 1))] ?? share;
  return {
    share,
    low: Math.min(share, quantile(0.025)),
    high: Math.max(share, quantile(0.975)),
    fineLow: reach(saddle, least, { end: 0, within: negligibleCents, loss, precision }),
    fineHigh: reach(saddle, least, { end: 1, within: negligibleCents, loss, precision }),
    clipped: wanted < -1e-3 && share === 0 ? 'at the 12th' : wanted > 1 + 1e-3 && share === 1 ? 'at the 17th' : 'no',
    cost: saddleCost(share, saddle, loss),
    regret: Math.max(0, regret),
  };
}

interface Decision {
  readonly share: number;
  /** The share before it was kept to [0, 1]. */
  readonly wanted: number;
  /** The share in [0, 1] of least cost. */
  readonly least: number;
}

function decide(saddle: SaddleStrings, loss: Loss, precision: number): Decision {
  const best = bestShare(saddle, loss, precision);
  const least = clamp(best, 0, 1);
  if (loss.kind !== 'audible') return { share: least, wanted: best, least };
  const wanted = leastSquaresShare(saddle);
  const within = alikeCents;
  const low = reach(saddle, least, { end: 0, within, loss, precision });
  const high = reach(saddle, least, { end: 1, within, loss, precision });
  return { share: clamp(wanted, low, high), wanted, least };
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}

/** The share of least mean square error: the square is a parabola in q, known from three of its points. */
function leastSquaresShare(saddle: SaddleStrings): number {
  const [at0, half, at1] = [0, 0.5, 1].map((share) => saddleCost(share, saddle, { kind: 'squared' }) ** 2) as [
    number,
    number,
    number,
  ];
  const curvature = at0 - 2 * half + at1;
  // Without any rise or nut offset no share is better than another: the even split.
  return curvature > 1e-12 ? 0.5 + (at0 - at1) / (4 * curvature) : evenShare;
}

/** How far from the least cost toward an end the cost stays within so many cents of it, by bisection: the cost is convex. */
function reach(
  saddle: SaddleStrings,
  least: number,
  {
    end,
    within,
    loss,
    precision,
  }: { readonly end: 0 | 1; readonly within: number; readonly loss: Loss; readonly precision: number },
): number {
  const most = saddleCost(least, saddle, loss) + within;
  if (saddleCost(end, saddle, loss) <= most) return end;
  let [fine, costly] = [least, end as number];
  while (Math.abs(costly - fine) > precision) {
    const middle = (fine + costly) / 2;
    if (saddleCost(middle, saddle, loss) <= most) fine = middle;
    else costly = middle;
  }
  return fine;
}

/** The share of least cost on [-1, 2], to within `precision`; a result outside [0, 1] tells that the constraint binds. */
function bestShare(saddle: SaddleStrings, loss: Loss, precision: number): number {
  return goldenSection((share) => saddleCost(share, saddle, loss), -1, 2, precision);
}
