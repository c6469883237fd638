import { saddleLeverage } from '../acoustics/frets.ts';
import { expectedCost, type Loss, type NormalError } from '../policy/loss.ts';
import { alikeCents } from '../policy/share.ts';
import { goldenSection } from '../statistics/golden-section.ts';
import { errorAt, type StringEstimate } from './string-estimate.ts';

/** A string whose 12th is known, as read or inferred. */
export type KnownString = StringEstimate & { readonly twelfth: number };

/** How often a string is played at frets 1, 2, ...: weights that sum to 1. */
export type FretWeights = ArrayLike<number>;

/**
 * Expected cost in cents of shifting the 12th of all strings on a saddle by the same `shift`: each string's cost along its
 * neck, together the root mean square over strings, or the worst for minimax (as a standard's share is chosen).
 */
export function shiftCost(
  shift: number,
  strings: readonly KnownString[],
  usage: readonly FretWeights[],
  loss: Loss,
): number {
  const necks = strings.map((estimate, at) =>
    Array.from({ length: usage[at]!.length }, (_, fret) => errorAt(fret + 1, estimate.twelfth, estimate)),
  );
  return costOf(shift, { necks, usage, loss });
}

interface Shifted {
  /** Per string, the errors at frets 1, 2, ... with the saddle where it stands. */
  readonly necks: readonly (readonly NormalError[])[];
  readonly usage: readonly FretWeights[];
  readonly loss: Loss;
}

function costOf(shift: number, { necks, usage, loss }: Shifted): number {
  const costs = necks.map((neck, at) =>
    expectedCost(
      neck.map(({ mean, sd }, fret) => ({ mean: mean + shift * saddleLeverage(fret + 1), sd })),
      usage[at]!,
      loss,
    ),
  );
  if (loss.kind === 'minimax') return Math.max(...costs);
  return Math.sqrt(costs.reduce((sum, cost) => sum + cost * cost, 0) / costs.length);
}

/** A saddle is not asked to shift the 12th by more than this many cents. */
const mostShift = 100;

/**
 * The shift of the 12th, in cents, of least expected cost for all strings on one saddle. Costs are convex in the shift, so
 * golden-section search finds the one minimum. As for a standard's share, among the audible shifts that cost under
 * `alikeCents` more than the least the one nearest the least mean square error is taken.
 */
export function leastCostShift(strings: readonly KnownString[], usage: readonly FretWeights[], loss: Loss): number {
  const necks = strings.map((estimate, at) =>
    Array.from({ length: usage[at]!.length }, (_, fret) => errorAt(fret + 1, estimate.twelfth, estimate)),
  );
  const cost = (shift: number): number => costOf(shift, { necks, usage, loss });
  const best = goldenSection(cost, -mostShift, mostShift, precision);
  if (loss.kind !== 'audible') return best;
  const squares = leastSquaresShift(necks, usage);
  const most = cost(best) + alikeCents;
  if (cost(squares) <= most) return squares;
  let [fine, costly] = [best, squares];
  while (Math.abs(costly - fine) > precision) {
    const middle = (fine + costly) / 2;
    if (cost(middle) <= most) fine = middle;
    else costly = middle;
  }
  return fine;
}

/** Cents; well under what a saddle can be set to. */
const precision = 1e-4;

/** The shift of least mean square error over strings and frets: `-sum w g e / sum w g^2`. */
function leastSquaresShift(necks: Shifted['necks'], usage: readonly FretWeights[]): number {
  let [gg, ge] = [0, 0];
  for (const [at, neck] of necks.entries())
    for (const [fret, { mean }] of neck.entries()) {
      const leverage = saddleLeverage(fret + 1);
      gg += usage[at]![fret]! * leverage ** 2;
      ge += usage[at]![fret]! * leverage * mean;
    }
  return -ge / gg;
}
