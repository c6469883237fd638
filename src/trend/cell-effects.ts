import { riseShape } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import type { Combination, Level, RandomPart } from '../statistics/mixed/combine.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import type { ContrastRows } from './contrast-rows.ts';
import { cellKey, type CentredCovariate, covariateTerm } from './covariate-effects.ts';
import { type Spread, type StringMoments, stringModes } from './string-moments.ts';
import { type Identified, technicianTerm, tellsRise } from './trend-model.ts';

/** One string of one model as the readings know it. */
export interface Cell {
  readonly string: number;
  /** Instruments on which it was read at two frets or more, one of them above the 12th. */
  readonly instruments: number;
  /** The usual step of the readings in cents; 0 where not stated. */
  readonly resolutionCents: number;
}

/** The strings of every model whose rise the readings tell of (see `tellsRise`), thinnest first, by the model's index. */
export function cellsOf(sums: BlockSums): Map<number, Cell[]> {
  const found = sums.models.map(() => new Map<number, { instruments: Set<number>; steps: number[] }>());
  for (let block = 0; block < sums.blockString.length; block++) {
    const [from, to] = [sums.blockStart[block]!, sums.blockStart[block + 1]!];
    if (!tellsRise(sums, block)) continue;
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

/** A model by its index, or one that no reading tells of. */
export type ModelLevel = number | 'unread';

const modelLevel = (model: ModelLevel): Level => (model === 'unread' ? { new: 'model' } : [model]);

/** The fixed and random parts that make up a model's nut offset. */
export function nutCombination(model: ModelLevel, { nutByModel }: Identified): Combination {
  const random = nutByModel ? [{ group: ['model'], level: modelLevel(model), effect: 'nut' }] : [];
  return { fixed: { nut: 1 }, random };
}

/** The fixed and random parts that make up the rise of one string of one model. A string is `unread` where no model has it. */
export function riseCombination(
  model: ModelLevel,
  string: number,
  {
    identified,
    covariates,
    isUnread = false,
  }: {
    readonly identified: Identified;
    readonly covariates: readonly CentredCovariate[];
    readonly isUnread?: boolean;
  },
): Combination {
  const random: RandomPart[] = [];
  const stringLevel: Level = isUnread ? { new: `string ${string}` } : [string];
  const both: Level = model === 'unread' || isUnread ? { new: `string ${string}` } : [model, string];
  if (identified.models) random.push({ group: ['model'], level: modelLevel(model), effect: 'rise' });
  if (identified.strings) random.push({ group: ['string'], level: stringLevel, effect: 'rise' });
  if (identified.modelStrings) random.push({ group: ['model', 'string'], level: both, effect: 'rise' });
  const own = covariates.map(({ name, perCell }): [string, number] => [
    covariateTerm(name),
    model === 'unread' ? 0 : (perCell.get(cellKey(model, string)) ?? 0),
  ]);
  return { fixed: { rise: 1, ...Object.fromEntries(own) }, random };
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
  parts: { readonly identified: Identified; readonly covariates: readonly CentredCovariate[] },
): MeanEffects {
  const { identified, covariates } = parts;
  const fixed = new Map(fit.fixed.map(({ term, estimate }) => [term, estimate]));
  const handOf = (kind: 'rise' | 'nut'): number[] => {
    const own = sums.technicians.map((_, technician) => fixed.get(technicianTerm(kind, technician)) ?? 0);
    own[own.length - 1] = -own.slice(0, -1).reduce((sum, value) => sum + value, 0);
    return own;
  };
  const [handRise, handNut] = [handOf('rise'), handOf('nut')];
  // A model read at low frets alone has a nut offset and no rise.
  const models = [
    ...new Set(
      Array.from(sums.blockInstrument.keys())
        .filter((block) => sums.blockStart[block + 1]! - sums.blockStart[block]! > 1)
        .map((block) => sums.modelOfInstrument[sums.blockInstrument[block]!]!),
    ),
  ];
  const nuts = identified.nut ? fit.predict(models.map((model) => nutCombination(model, identified))) : [];
  const nut = new Map(models.map((model, at) => [model, nuts[at] ?? 0]));
  const keys = [...cells].flatMap(([model, list]) => list.map(({ string }) => ({ model, string })));
  const rises = fit.predict(keys.map(({ model, string }) => riseCombination(model, string, parts)));
  const rise = new Map(keys.map(({ model, string }, at) => [cellKey(model, string), rises[at]!]));
  const modelOf = (block: number): number => sums.modelOfInstrument[sums.blockInstrument[block]!]!;
  /** What a block's covariates add to its cell's rise. */
  const beyondCell = (block: number): number =>
    covariates.reduce((sum, { name, perBlock, perCell }) => {
      const usual = perCell.get(cellKey(modelOf(block), sums.blockString[block]!))!;
      return sum + (fixed.get(covariateTerm(name)) ?? 0) * (perBlock[block]! - usual);
    }, 0);
  const meanOf = (block: number): { nut: number; rise: number } => ({
    nut: nut.get(modelOf(block)) ?? 0,
    rise: (rise.get(cellKey(modelOf(block), sums.blockString[block]!)) ?? 0) + beyondCell(block),
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
