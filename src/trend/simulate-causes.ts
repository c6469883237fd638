import { kappa } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { normalRandom } from '../statistics/random.ts';
import type { Cause } from './causes.ts';
import { riseOfShape } from './cause-sources.ts';
import { less, shapeOf } from './decompose-model.ts';
import { type ShopPlan, simulateShop, usualShop } from './simulate-shop.ts';

/** A cause put into readings at a known size. */
export interface PlantedCause {
  readonly cause: Cause;
  readonly size: number;
}

/** One model read at many frets, made of known causes; standard deviations in cents. */
export interface CausePlan extends Pick<
  ShopPlan,
  | 'strings'
  | 'passes'
  | 'manyFretsEvery'
  | 'technicians'
  | 'hand'
  | 'instrumentRise'
  | 'stringRise'
  | 'stringNut'
  | 'reading'
> {
  readonly instruments: number;
  readonly nutCents: number;
  /** Standard deviation of nut slots between the strings, the same on every instrument. */
  readonly nutSlot: number;
  /** Mean rise that no cause explains, and its standard deviation between the strings. */
  readonly rest: { readonly mean: number; readonly string: number };
  readonly planted: readonly PlantedCause[];
}

/** Twelve instruments of six strings, all read at many frets on one pass by one hand; nothing planted. */
export const usualCauses: CausePlan = {
  ...usualShop,
  instruments: 12,
  passes: 1,
  manyFretsEvery: 1,
  technicians: 1,
  hand: 0,
  nutCents: 0.5,
  nutSlot: 0.2,
  rest: { mean: 0, string: 0.3 },
  planted: [],
};

export interface SimulatedCauses {
  readonly sums: BlockSums;
  readonly model: string;
  /** True cents of the rise by cause, mean over the strings: `nut`, `rest` and the planted ones. */
  readonly rise: ReadonlyMap<string, number>;
}

/** Readings of one invented model whose causes are known. The same seed and plan give the same readings. */
export function simulateCauses(seed: number, plan: CausePlan = usualCauses): SimulatedCauses {
  const { instruments, nutCents, nutSlot, rest, planted, strings } = plan;
  const shop = simulateShop(seed, {
    ...usualShop,
    ...plan,
    models: 1,
    instrumentsPerModel: instruments,
    rise: { mean: rest.mean, model: 0, string: rest.string, modelString: 0 },
    nut: { mean: nutCents, model: 0 },
    bend: 0,
  });
  const normal = normalRandom(seed + 7);
  const slots = Array.from({ length: strings }, () => nutSlot * normal());
  const slot = { shape: (string: number) => slots[string - 1]! };
  const all = [...planted, { cause: slot, size: 1 }];
  const sums = all.reduce(
    (left: BlockSums, { cause, size }) =>
      less(
        left,
        shapeOf(left, cause).map((cents) => -size * cents),
      ),
    shop.sums,
  );
  const meanOf = (value: (string: number) => number): number =>
    Array.from({ length: strings }, (_, at) => value(at + 1)).reduce((sum, one) => sum + one, 0) / strings;
  return {
    sums,
    model: sums.models[0]!,
    rise: new Map([
      ['nut', (1 - kappa) * (shop.nut[0]! + meanOf((string) => slots[string - 1]!))],
      ['rest', meanOf((string) => shop.rise[0]![string - 1]!)],
      ...planted.map(({ cause, size }): [string, number] => [
        cause.name,
        meanOf((string) => size * riseOfShape(cause, string)),
      ]),
    ]),
  };
}
