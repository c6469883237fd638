import { riseShape } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import type { Combination, RandomPart } from '../statistics/mixed/combine.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import type { ContrastRows } from './contrast-rows.ts';
import { type Spread, type StringMoments, stringModes } from './string-moments.ts';
import { type Identified, technicianTerm } from './trend-model.ts';

/** One string of one model as the readings know it. */
export interface Cell {
  readonly string: number;
  /** Instruments on which it was read at two frets or more. */
  readonly instruments: number;
  /** The usual step of the readings in cents; 0 where not stated. */
  readonly resolutionCents: number;
}

/** The strings of every model that readings at two frets or more tell of, thinnest first, by the model's index. */
export function cellsOf(sums: BlockSums): Map<number, Cell[]> {
  const found = sums.models.map(() => new Map<number, { instruments: Set<number>; steps: number[] }>());
  for (let block = 0; block < sums.blockString.length; block++) {
    const [from, to] = [sums.blockStart[block]!, sums.blockStart[block + 1]!];
    if (to - from < 2) continue;
    const instrument = sums.blockInstrument[block]!;
    const strings = found[sums.modelOfInstrument[instrument]!]!;
    const cell = strings.get(sums.blockString[block]!) ?? { instruments: new Set(), steps: [] };
    strings.set(sums.blockString[block]!, cell);
    cell.instruments.add(instrument);
    cell.steps.push(...sums.cellResolution.subarray(from, to).filter((step) => step > 0));
  }
  return new Map(
    found
      .map((strings, model): [number, Cell[]] => [
        model,
        [...strings]
          .map(([string, { instruments, steps }]) => ({
            string,
            instruments: instruments.size,
            resolutionCents: steps.sort((a, b) => a - b)[steps.length >> 1] ?? 0,
          }))
          .sort((a, b) => a.string - b.string),
      ])
      .filter(([, cells]) => cells.length > 0),
  );
}

/** The fixed and random parts that make up a model's nut offset. */
export function nutCombination(model: number, { nutByModel }: Identified): Combination {
  return { fixed: { nut: 1 }, random: nutByModel ? [{ group: ['model'], level: [model], effect: 'nut' }] : [] };
}

/** The fixed and random parts that make up the rise of one string of one model. */
export function riseCombination(model: number, string: number, identified: Identified): Combination {
  const random: RandomPart[] = [];
  if (identified.models) random.push({ group: ['model'], level: [model], effect: 'rise' });
  if (identified.strings) random.push({ group: ['string'], level: [string], effect: 'rise' });
  if (identified.modelStrings) random.push({ group: ['model', 'string'], level: [model, string], effect: 'rise' });
  return { fixed: { rise: 1 }, random };
}

/** What models and hands make of every reading, the saddle aside. */
export interface MeanEffects {
  /** Per projected row: response less the model's and the hand's part. */
  residual(rows: ContrastRows): Float64Array;
  /** Per cell of the sums: model, hand, and the modes of instrument and string, in cents without the saddle. */
  expected(moments: readonly (readonly StringMoments[])[], spread: Spread): Float64Array;
}

/** Reads nut offsets, rises and hands off a fit. */
export function meanEffects(
  sums: BlockSums,
  fit: MixedFit,
  cells: ReadonlyMap<number, readonly Cell[]>,
  identified: Identified,
): MeanEffects {
  const fixed = new Map(fit.fixed.map(({ term, estimate }) => [term, estimate]));
  const handOf = (kind: 'rise' | 'nut'): number[] => {
    const own = sums.technicians.map((_, technician) => fixed.get(technicianTerm(kind, technician)) ?? 0);
    own[own.length - 1] = -own.slice(0, -1).reduce((sum, value) => sum + value, 0);
    return own;
  };
  const [handRise, handNut] = [handOf('rise'), handOf('nut')];
  const models = [...cells.keys()];
  const nuts = identified.nut ? fit.combine(models.map((model) => nutCombination(model, identified))).estimates : [];
  const nut = new Map(models.map((model, at) => [model, nuts[at]?.estimate ?? 0]));
  const keys = [...cells].flatMap(([model, list]) => list.map(({ string }) => ({ model, string })));
  const rises = fit.combine(keys.map(({ model, string }) => riseCombination(model, string, identified))).estimates;
  const rise = new Map(keys.map(({ model, string }, at) => [model * 64 + string, rises[at]!.estimate]));
  const modelOf = (block: number): number => sums.modelOfInstrument[sums.blockInstrument[block]!]!;
  const meanOf = (block: number): { nut: number; rise: number } => ({
    nut: nut.get(modelOf(block)) ?? 0,
    rise: rise.get(modelOf(block) * 64 + sums.blockString[block]!) ?? 0,
  });
  return {
    residual: (rows) =>
      rows.response.map((response, row) => {
        const mean = meanOf(rows.block[row]!);
        let left = response - mean.nut * rows.nut[row]! - mean.rise * rows.rise[row]!;
        for (let hand = 0; hand < handRise.length; hand++)
          left -=
            handNut[hand]! * rows.nutByTechnician[hand]![row]! + handRise[hand]! * rows.riseByTechnician[hand]![row]!;
        return left;
      }),
    expected: (moments, spread) => {
      // Nearly unshrunk, so that a large departure of the whole string is not left over at its frets.
      const wide = { ...spread, stringNut: 10 * spread.stringNut };
      const variance = 100 * (spread.instrumentRise ** 2 + spread.stringRise ** 2);
      const modes = moments.map(
        (strings) => new Map(strings.map((one) => [one.string, stringModes(one, wide, variance)])),
      );
      const expected = new Float64Array(sums.cellFret.length);
      for (let block = 0; block < sums.blockString.length; block++) {
        const mean = meanOf(block);
        const own = modes[sums.blockInstrument[block]!]!.get(sums.blockString[block]!) ?? { nut: 0, rise: 0 };
        for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++) {
          const hand = sums.cellTechnician[cell]!;
          expected[cell] =
            mean.nut +
            own.nut +
            handNut[hand]! +
            (mean.rise + own.rise + handRise[hand]!) * riseShape(sums.cellFret[cell]!);
        }
      }
      return expected;
    },
  };
}
