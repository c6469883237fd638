import { kappa, riseShape, saddleLeverage } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { normalRandom, uniformRandom } from '../statistics/random.ts';

/** What a simulated shop is made of; standard deviations in cents. */
export interface ShopPlan {
  readonly models: number;
  readonly instrumentsPerModel: number;
  readonly strings: number;
  /** Passes on every instrument; the saddle stands anew at each. */
  readonly passes: number;
  /** Every so many instruments is read at many frets, the others at the 12th and the 17th; 0 for none. */
  readonly manyFretsEvery: number;
  readonly technicians: number;
  readonly rise: {
    readonly mean: number;
    readonly model: number;
    readonly string: number;
    readonly modelString: number;
  };
  readonly nut: { readonly mean: number; readonly model: number };
  /** Differences between instruments and readings: b, c, a and e of the reading-level model. */
  readonly instrumentRise: number;
  readonly stringRise: number;
  readonly stringNut: number;
  readonly reading: number;
  /** Technicians' hands: standard deviation of their rises and nuts, which sum to zero over the shop. */
  readonly hand: number;
  /** Degrees of freedom of the t distribution that instruments, strings and readings follow; Infinity for the normal. */
  readonly tails: number;
  /** Cents by which the rise bends: adds `bend (u^2 - u)` at fret n, nothing at the 12th and the 17th. */
  readonly bend: number;
}

/** A shop like the demo's, of middling size. */
export const usualShop: ShopPlan = {
  models: 6,
  instrumentsPerModel: 12,
  strings: 6,
  passes: 2,
  manyFretsEvery: 3,
  technicians: 3,
  rise: { mean: 2.5, model: 1, string: 0.6, modelString: 0.6 },
  nut: { mean: 0.5, model: 0.3 },
  instrumentRise: 0.6,
  stringRise: 0.7,
  stringNut: 0.4,
  reading: 0.5,
  hand: 0.4,
  tails: Infinity,
  bend: 0,
};

export interface SimulatedShop {
  readonly sums: BlockSums;
  /** True rise and nut offset by model and string, `rise[model][string - 1]`, in cents, under the mean hand. */
  readonly rise: readonly (readonly number[])[];
  readonly nut: readonly number[];
}

const manyFrets = [1, 3, 5, 7, 9, 12, 14, 15, 17, 19, 21];

/**
 * Readings of an invented shop whose truth is known, drawn from the reading-level model. The same seed and plan give the same
 * shop.
 *
 * @param seed whole number from 1 to 2^32 - 1
 */
export function simulateShop(seed: number, plan: ShopPlan = usualShop): SimulatedShop {
  const normal = normalRandom(seed);
  const uniform = uniformRandom(seed + 1);
  /** A deviation with the tails of the plan, scaled to the standard deviation asked for (t needs more than 2 df for one). */
  const deviation = (sd: number): number => {
    if (plan.tails === Infinity) return sd * normal();
    let squares = 0;
    for (let df = 0; df < plan.tails; df++) squares += normal() ** 2;
    return (sd * normal() * Math.sqrt(plan.tails - 2)) / Math.sqrt(squares);
  };
  const ofString = Array.from({ length: plan.strings }, () => plan.rise.string * normal());
  const rise = Array.from({ length: plan.models }, () => {
    const model = plan.rise.mean + plan.rise.model * normal();
    return ofString.map((string) => model + string + plan.rise.modelString * normal());
  });
  const nut = Array.from({ length: plan.models }, () => plan.nut.mean + plan.nut.model * normal());
  const hands = centred(plan.technicians, () => plan.hand * normal());
  const handNuts = centred(plan.technicians, () => plan.hand * normal());

  const instruments = plan.models * plan.instrumentsPerModel;
  const cells: { technician: number; fret: number; cents: number }[] = [];
  const blocks: { instrument: number; string: number; pass: number; start: number }[] = [];
  for (let instrument = 0; instrument < instruments; instrument++) {
    const model = instrument % plan.models;
    const technician = Math.floor(uniform() * plan.technicians);
    const shared = deviation(plan.instrumentRise);
    const many = plan.manyFretsEvery > 0 && Math.floor(instrument / plan.models) % plan.manyFretsEvery === 0;
    for (let string = 1; string <= plan.strings; string++) {
      const ownRise = rise[model]![string - 1]! + shared + deviation(plan.stringRise) + hands[technician]!;
      const ownNut = nut[model]! + deviation(plan.stringNut) + handNuts[technician]!;
      for (let pass = 0; pass < plan.passes; pass++) {
        blocks.push({ instrument, string, pass, start: cells.length });
        const saddle = 2 * normal();
        for (const fret of many ? manyFrets : [12, 17]) {
          const u = riseShape(fret);
          const bent = ownRise * u + plan.bend * (u * u - u);
          const cents = ownNut + bent + saddle * saddleLeverage(fret) + deviation(plan.reading);
          cells.push({ technician, fret, cents });
        }
      }
    }
  }
  return {
    rise,
    nut,
    sums: {
      models: Array.from({ length: plan.models }, (_, model) => `Model ${model + 1}`),
      instruments: Array.from({ length: instruments }, (_, instrument) => `I${instrument + 1}`),
      technicians: Array.from({ length: plan.technicians }, (_, technician) => `tech-${technician + 1}`),
      modelOfInstrument: Int32Array.from({ length: instruments }, (_, instrument) => instrument % plan.models),
      blockInstrument: Int32Array.from(blocks, (block) => block.instrument),
      blockString: Int32Array.from(blocks, (block) => block.string),
      blockPass: Int32Array.from(blocks, (block) => block.pass),
      blockStart: Int32Array.from([...blocks.map((block) => block.start), cells.length]),
      blockCovariates: {},
      cellTechnician: Int32Array.from(cells, (cell) => cell.technician),
      cellFret: Int32Array.from(cells, (cell) => cell.fret),
      cellCount: new Float64Array(cells.length).fill(1),
      cellMean: Float64Array.from(cells, (cell) => cell.cents),
      cellSquares: new Float64Array(cells.length),
      cellResolution: new Float64Array(cells.length),
    },
  };
}

/** What a shop that reads the 12th and the 17th alone can know of a rise: it contains (1 - kappa) times the nut offset. */
export function seenRise(shop: SimulatedShop, model: number, string: number): number {
  return shop.rise[model]![string - 1]! + (1 - kappa) * shop.nut[model]!;
}

function centred(count: number, draw: () => number): number[] {
  const values = Array.from({ length: count }, draw);
  const mean = values.reduce((sum, value) => sum + value, 0) / count;
  return values.map((value) => value - mean);
}
