import { moveCents, moveForCents, type SaddleGeometry } from '../acoustics/saddle.ts';
import type { Loss } from '../policy/loss.ts';
import { type FretWeights, type KnownString, leastCostShift } from './shared-shift.ts';
import type { Gain } from './response.ts';

/** What is known of the saddle itself. */
export interface SaddleFacts {
  readonly scaleMm: number;
  /** Where it stands, in mm back of the nominal scale length; null where nobody wrote it down. */
  readonly saddleMm: number | null;
  readonly mmPerTurn: number | null;
  /** Travel from end to end. */
  readonly travelMm: number | null;
}

/** One move of one saddle; positive is back, away from the neck. */
export interface SaddleMove {
  readonly action: 'back' | 'forward' | 'leave';
  /** Change of the 12th in cents that would be best, and that the move makes; the same unless the travel ends before. */
  readonly wantedCents: number;
  readonly changeCents: number;
  readonly moveMm: number;
  /** Turns of the screw, positive back; null where no travel per turn is known. */
  readonly turns: number | null;
  /** What to aim for in mm where saddle and rule have been seen to differ; `moveMm` over the gain. */
  readonly aimMm: number;
  readonly reach: Reach;
  /** The setback that the geometry starts from, in mm. */
  readonly setbackMm: number;
}

/**
 * Whether the saddle can go there: `within` its travel; `assumed` so, as it was taken to stand in the middle; `beyond` it,
 * and the move is cut short; `unknown`, as nobody said how far it can go.
 */
export type Reach = 'within' | 'assumed' | 'beyond' | 'unknown';

/** A saddle reading beyond this many mm is a reading of a rule laid somewhere, not a setback. */
const mostSetbackMm = 15;

/**
 * The next move of a saddle.
 *
 * One string: its 12th is brought to its target. Several: the shift of least expected cost over all of them. The move in
 * millimetres is exact by the geometry. Within the window nothing is moved.
 */
export function planMove(
  strings: readonly KnownString[],
  facts: SaddleFacts,
  { usage, loss, gain }: { readonly usage: readonly FretWeights[]; readonly loss: Loss; readonly gain: Gain },
): SaddleMove {
  const wantedCents =
    strings.length === 1 ? strings[0]!.target - strings[0]!.twelfth : leastCostShift(strings, usage, loss);
  const window = strings.reduce((sum, one) => sum + one.window, 0) / strings.length;
  const setbackMm = setbackOf(facts) ?? 0;
  const from = { scaleMm: facts.scaleMm, setbackMm };
  if (Math.abs(wantedCents) <= window)
    return { ...still, wantedCents, turns: facts.mmPerTurn === null ? null : 0, reach: 'within', setbackMm };
  const wantedMm = exactMove(wantedCents, from);
  const { moveMm, reach } = reachable(wantedMm, facts);
  return {
    action: moveMm === 0 ? 'leave' : moveMm > 0 ? 'back' : 'forward',
    wantedCents,
    changeCents: moveMm === wantedMm ? wantedCents : moveCents(12, moveMm, from),
    moveMm,
    turns: facts.mmPerTurn === null ? null : moveMm / (facts.mmPerTurn * gain.mean),
    aimMm: moveMm / gain.mean,
    reach,
    setbackMm,
  };
}

const still = { action: 'leave', changeCents: 0, moveMm: 0, aimMm: 0 } as const;

/** The exact move; a change that no saddle could make (readings of another string) is answered by the largest that one could. */
function exactMove(cents: number, from: SaddleGeometry): number {
  const most = from.scaleMm / 10;
  const [flattest, sharpest] = [moveCents(12, most, from), moveCents(12, -most, from)];
  if (cents <= flattest) return most;
  if (cents >= sharpest) return -most;
  return moveForCents(12, cents, from);
}

/** The setback, where what was written down can be one: within the travel taken half each way, or 15 mm. */
export function setbackOf({ saddleMm, travelMm }: SaddleFacts): number | null {
  if (saddleMm === null) return null;
  return Math.abs(saddleMm) <= (travelMm === null ? mostSetbackMm : travelMm / 2) ? saddleMm : null;
}

/** Cuts a move to the travel, taken to reach as far forward of the nominal scale length as back. */
function reachable(wantedMm: number, facts: SaddleFacts): { moveMm: number; reach: Reach } {
  if (facts.travelMm === null) return { moveMm: wantedMm, reach: 'unknown' };
  const setback = setbackOf(facts);
  const half = facts.travelMm / 2;
  const end = Math.min(half, Math.max(-half, (setback ?? 0) + wantedMm)) - (setback ?? 0);
  if (Math.abs(end - wantedMm) > 1e-9) return { moveMm: end, reach: 'beyond' };
  return { moveMm: wantedMm, reach: setback === null ? 'assumed' : 'within' };
}
