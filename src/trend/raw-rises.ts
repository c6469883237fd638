import { mean } from '../statistics/location-scale.ts';
import { rise } from '../acoustics/rise.ts';
import { type BlockSums, meanAt } from '../sources/block-sums.ts';

/** The plain mean rise of one string over the instruments of one model, nothing borrowed from other models. */
export interface RawRise {
  readonly instruments: number;
  /** Mean of `t` over instruments, each the mean of its passes, in cents. */
  readonly mean: number;
  /** Sample standard deviation over instruments; NaN with one. */
  readonly sd: number;
}

/**
 * Raw rises by model and string, `result.get(model)?.get(string)` with the model's index in `sums.models`, from the readings
 * at the 12th and the 17th alone. Blocks without both frets do not count.
 */
export function rawRises(sums: BlockSums): Map<number, Map<number, RawRise>> {
  const byString = new Map<number, Map<number, Map<number, number[]>>>();
  for (let block = 0; block < sums.blockString.length; block++) {
    const t = blockRise(sums, block);
    if (t === undefined) continue;
    const instrument = sums.blockInstrument[block]!;
    const strings = child(byString, sums.modelOfInstrument[instrument]!);
    const instruments = child(strings, sums.blockString[block]!);
    const passes = instruments.get(instrument);
    if (passes) passes.push(t);
    else instruments.set(instrument, [t]);
  }
  return new Map(
    [...byString].map(([model, strings]) => [
      model,
      new Map([...strings].map(([string, instruments]) => [string, summarise([...instruments.values()].map(mean))])),
    ]),
  );
}

/** `t` of one block: the mean reading at the 17th less kappa times that at the 12th; undefined without both. */
export function blockRise(sums: BlockSums, block: number): number | undefined {
  const [twelfth, seventeenth] = [meanAt(sums, block, 12), meanAt(sums, block, 17)];
  return twelfth === undefined || seventeenth === undefined ? undefined : rise(twelfth, seventeenth);
}

function child<V>(map: Map<number, Map<number, V>>, key: number): Map<number, V> {
  const found = map.get(key) ?? new Map<number, V>();
  map.set(key, found);
  return found;
}

function summarise(values: readonly number[]): RawRise {
  const centre = mean(values);
  const squares = values.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  return {
    instruments: values.length,
    mean: centre,
    sd: values.length > 1 ? Math.sqrt(squares / (values.length - 1)) : NaN,
  };
}
