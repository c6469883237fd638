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
  /** Strings on the saddle; 1 where not said. */
  readonly strings?: number;
}

/** How one saddle came out. */
export interface BenchOutcome {
  /** Moves made before the worksheet said to leave it. */
  readonly moves: number;
  /** How far the true 12th then was from where the string's own true rise would have it, in cents; mean over its strings. */
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
  const [scaleMm, rise, nut] = [648, 3, 0.4];
  const kappa = 2 ** (17 / 12) - 1;
  // The share of least squares over a neck played evenly, for a rise without a nut offset: kappa sum(u g) / sum(g^2).
  const frets = Array.from({ length: 22 }, (_, at) => ({ g: 2 ** ((at + 1) / 12) - 1, u: Math.max(0, at - 11) / 5 }));
  const sum = (of: (fret: (typeof frets)[number]) => number): number => frets.reduce((all, one) => all + of(one), 0);
  const share = (kappa * sum(({ u, g }) => u * g)) / sum(({ g }) => g * g);
  const count = plan.strings ?? 1;
  const saddle = Array.from({ length: count }, (_, at) => at + 1);
  const standard = standardOf([
    {
      model: 'Larch',
      rises: saddle.map(() => rise),
      nut,
      share,
      saddles: [saddle],
      mmPerTurn: plan.mmPerTurn,
      travelMm: null,
    },
  ]);
  return Array.from({ length: plan.instruments }, () => {
    const shared = spread.instrumentRise * normal();
    const strings = saddle.map((string) => ({
      string,
      rise: rise + shared + spread.stringRise * normal(),
      nut: nut + spread.stringNut * normal(),
    }));
    const screw = plan.screw[0] + (plan.screw[1] - plan.screw[0]) * uniform();
    const truth = (fret: number, backMm: number, own: (typeof strings)[number]): number =>
      own.nut +
      (own.rise * Math.max(0, fret - 12)) / 5 +
      1200 * Math.log2((scaleMm + backMm) / (scaleMm * 2 ** (-fret / 12) + backMm)) -
      100 * fret;
    const shown = (cents: number): number => Math.round((cents + plan.noise * normal()) / plan.step) * plan.step;
    let backMm = (plan.received * normal()) / 2.67;
    const rows: BenchReading[] = [];
    for (let [moves, pass] = [0, 0]; ; pass++) {
      for (const own of strings)
        for (const fret of [12, 17])
          rows.push({
            string: own.string,
            fret,
            pass,
            cents: shown(truth(fret, backMm, own)),
            resolutionCents: plan.step,
          });
      const [sheet] = makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage });
      const { move } = sheet!.saddles[0]!;
      // Without a move an open string is suspected: it is retuned (it was in tune) and read again.
      if (!move) continue;
      if (move.action === 'leave' || moves === mostMoves) {
        const off = strings.map((own) => truth(12, backMm, own) + (share * (own.rise + (1 - kappa) * own.nut)) / kappa);
        return { moves, left: off.reduce((sum, cents) => sum + cents, 0) / count };
      }
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
