import { expectedCost, type Loss } from './loss.ts';
import { neckErrors, type StringForecast } from './neck.ts';

/** The strings that one saddle carries, and how often each is played at frets 1, 2, ...: weights that sum to 1. */
export interface SaddleStrings {
  readonly forecasts: readonly StringForecast[];
  readonly usage: readonly ArrayLike<number>[];
}

/** Differences in expected cost below this many cents would not change a standard (the design's own line for regret). */
export const negligibleCents = 0.1;

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
 * Chooses the share with the least expected cost. The cost is convex in q (each loss is convex in the error and the
 * error is linear in q), so golden-section search finds the one minimum.
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
  const best = bestShare(saddle, loss, 1e-5);
  const share = Math.min(1, Math.max(0, best));
  const bests: number[] = [];
  let regret = 0;
  for (const forecasts of possible) {
    const known = { ...saddle, forecasts };
    const shareIfKnown = Math.min(1, Math.max(0, bestShare(known, loss, 1e-3)));
    bests.push(shareIfKnown);
    regret += (saddleCost(share, known, loss) - saddleCost(shareIfKnown, known, loss)) / possible.length;
  }
  bests.sort((a, b) => a - b);
  const quantile = (p: number): number => bests[Math.round(p * (bests.length - 1))] ?? share;
  return {
    share,
    low: Math.min(share, quantile(0.025)),
    high: Math.max(share, quantile(0.975)),
    fineLow: reach(saddle, share, 0, loss),
    fineHigh: reach(saddle, share, 1, loss),
    clipped: best < -1e-3 ? 'at the 12th' : best > 1 + 1e-3 ? 'at the 17th' : 'no',
    cost: saddleCost(share, saddle, loss),
    regret: Math.max(0, regret),
  };
}

/** How far from the best share toward an end the cost stays within `negligibleCents` of the least, by bisection: the cost is convex. */
function reach(saddle: SaddleStrings, share: number, end: 0 | 1, loss: Loss): number {
  const most = saddleCost(share, saddle, loss) + negligibleCents;
  if (saddleCost(end, saddle, loss) <= most) return end;
  let [fine, costly] = [share, end as number];
  while (Math.abs(costly - fine) > 1e-4) {
    const middle = (fine + costly) / 2;
    if (saddleCost(middle, saddle, loss) <= most) fine = middle;
    else costly = middle;
  }
  return fine;
}

/** The share of least cost on [-1, 2], to within `precision`; a result outside [0, 1] tells that the constraint binds. */
function bestShare(saddle: SaddleStrings, loss: Loss, precision: number): number {
  const golden = (Math.sqrt(5) - 1) / 2;
  let [low, high] = [-1, 2];
  let [left, right] = [high - golden * (high - low), low + golden * (high - low)];
  let [atLeft, atRight] = [saddleCost(left, saddle, loss), saddleCost(right, saddle, loss)];
  while (high - low > precision) {
    if (atLeft <= atRight) {
      [high, right, atRight] = [right, left, atLeft];
      left = high - golden * (high - low);
      atLeft = saddleCost(left, saddle, loss);
    } else {
      [low, left, atLeft] = [left, right, atRight];
      right = low + golden * (high - low);
      atRight = saddleCost(right, saddle, loss);
    }
  }
  return (low + high) / 2;
}
