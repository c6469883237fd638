import { makeWorksheets } from '../../src/bench/worksheet.ts';
import { normalRandom, uniformRandom } from '../../src/statistics/random.ts';
import { type BenchReading, evenUsage, readingsOf, spread, standardOf } from './bench-standard.ts';

/** How a simulated bench works. */
export interface BenchPlan {
  readonly seed: number;
  readonly instruments: number;
  /** Standard deviation of a reading, in cents. */
  readonly noise: number;
  /** Step of the tuner, in cents. */
  readonly step: number;
  /** The screw really travels from the first to the second of these times what is stated a turn, every value as likely. */
  readonly screw: readonly [number, number];
  /** Travel for one turn as the standard states it; null where it does not, and the hand goes by millimetres. */
  readonly mmPerTurn: number | null;
  /** Standard deviation of the 12th as received, in cents. */
  readonly received: number;
}

/** How one string came out. */
export interface BenchOutcome {
  /** Moves made before the worksheet said to leave it. */
  readonly moves: number;
  /** How far the true 12th then was from where the string's own true rise would have it, in cents. */
  readonly left: number;
}

/** Passes after which a string counts as never settled. */
const mostMoves = 12;

/**
 * A technician who reads the 12th and the 17th, does what the worksheet says, retunes, reads again, until it says to leave
 * the saddle. Rises and nut offsets are drawn as the standard says they vary. Geometry is computed here anew, from lengths.
 */
export function simulateBench(plan: BenchPlan): BenchOutcome[] {
  const normal = normalRandom(plan.seed);
  const uniform = uniformRandom(plan.seed + 1);
  const [scaleMm, share, rise, nut] = [648, 0.6, 3, 0.4];
  const kappa = 2 ** (17 / 12) - 1;
  const standard = standardOf([
    { model: 'Larch', rises: [rise], nut, share, mmPerTurn: plan.mmPerTurn, travelMm: null },
  ]);
  return Array.from({ length: plan.instruments }, () => {
    const own = rise + Math.hypot(spread.instrumentRise, spread.stringRise) * normal();
    const ownNut = nut + spread.stringNut * normal();
    const screw = plan.screw[0] + (plan.screw[1] - plan.screw[0]) * uniform();
    const truth = (fret: number, backMm: number): number =>
      ownNut +
      (own * Math.max(0, fret - 12)) / 5 +
      1200 * Math.log2((scaleMm + backMm) / (scaleMm * 2 ** (-fret / 12) + backMm)) -
      100 * fret;
    const shown = (cents: number): number => Math.round((cents + plan.noise * normal()) / plan.step) * plan.step;
    let backMm = (plan.received * normal()) / 2.67;
    const rows: BenchReading[] = [];
    for (let [moves, pass] = [0, 0]; ; pass++) {
      for (const fret of [12, 17])
        rows.push({ fret, pass, cents: shown(truth(fret, backMm)), resolutionCents: plan.step });
      const [sheet] = makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage });
      const { move } = sheet!.saddles[0]!;
      // Without a move the open string is suspected: it is retuned (it was in tune) and read again.
      if (!move) continue;
      if (move.action === 'leave' || moves === mostMoves)
        return { moves, left: truth(12, backMm) + (share * (own + (1 - kappa) * ownNut)) / kappa };
      // As it stands on paper: turns to the nearest eighth, millimetres to the twentieth.
      const asked =
        move.turns === null ? Math.round(move.aimMm * 20) / 20 : (Math.round(move.turns * 8) / 8) * plan.mmPerTurn!;
      backMm += asked * screw;
      moves++;
    }
  });
}

/** The value that a part `p` of the sorted values stays at or under. */
export function percentile(values: readonly number[], p: number): number {
  const sorted = values.toSorted((a, b) => a - b);
  return sorted[Math.ceil(p * sorted.length) - 1]!;
}
