import type { ColumnTable } from 'arquero';
import { type BlockSums, sumReadings } from '../sources/block-sums.ts';
import { selectBlocks } from '../sources/select-blocks.ts';

/** The readings of one instrument at one pass. */
export interface BenchPass {
  readonly pass: number;
  /** This instrument's blocks of this pass alone: one a string, in the order of strings. */
  readonly sums: BlockSums;
  /** Where the saddle of a string stood, in mm back of the nominal scale length, as far as it was written down. */
  readonly saddleMm: ReadonlyMap<number, number>;
}

/** One instrument on the bench. */
export interface BenchInstrument {
  readonly instrument: string;
  readonly model: string;
  /** Scale length in mm where the log states it for this instrument. */
  readonly scaleMm: number | null;
  /** In the order of passes. */
  readonly passes: readonly BenchPass[];
}

/**
 * The instruments of a log, each with its readings pass by pass, in the order they first appear.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function benchInstruments(readings: ColumnTable): BenchInstrument[] {
  const sums = sumReadings(readings);
  const saddles = meansBeside(readings, 'saddleMm', (row) => `${row.string}\n${row.pass}`);
  const scales = meansBeside(readings, 'scaleMm', () => '');
  const blocksOf = sums.instruments.map((): number[] => []);
  sums.blockInstrument.forEach((instrument, block) => blocksOf[instrument]!.push(block));
  return sums.instruments.map((instrument, at) => {
    const blocks = blocksOf[at]!;
    const passes = [...new Set(blocks.map((block) => sums.blockPass[block]!))].sort((a, b) => a - b);
    return {
      instrument,
      model: sums.models[sums.modelOfInstrument[at]!]!,
      scaleMm: scales.get(instrument)?.get('') ?? null,
      passes: passes.map((pass): BenchPass => {
        const own = blocks.filter((block) => sums.blockPass[block] === pass);
        const beside = saddles.get(instrument);
        return {
          pass,
          sums: keepBlocks(sums, own),
          saddleMm: new Map(
            own.flatMap((block): [number, number][] => {
              const string = sums.blockString[block]!;
              const mm = beside?.get(`${string}\n${pass}`);
              return mm === undefined ? [] : [[string, mm]];
            }),
          ),
        };
      }),
    };
  });
}

/** Mean of a covariate by instrument and a key of the row; rows without it are left out. */
function meansBeside(
  readings: ColumnTable,
  name: string,
  keyOf: (row: { readonly string: number; readonly pass: number }) => string,
): Map<string, Map<string, number>> {
  const means = new Map<string, Map<string, number>>();
  if (!readings.columnNames().includes(name)) return means;
  const values = readings.array(name) as ArrayLike<number | null>;
  const instruments = readings.array('instrument') as ArrayLike<string>;
  const strings = readings.array('string') as ArrayLike<number>;
  const passes = readings.array('pass') as ArrayLike<number>;
  const counts = new Map<Map<string, number>, Map<string, number>>();
  for (let row = 0; row < values.length; row++) {
    const value = values[row];
    if (value === null || value === undefined || Number.isNaN(value)) continue;
    const own = means.get(instruments[row]!) ?? means.set(instruments[row]!, new Map()).get(instruments[row]!)!;
    const count = counts.get(own) ?? counts.set(own, new Map()).get(own)!;
    const key = keyOf({ string: strings[row]!, pass: passes[row]! });
    const read = (count.get(key) ?? 0) + 1;
    count.set(key, read);
    own.set(key, (own.get(key) ?? 0) + (value - (own.get(key) ?? 0)) / read);
  }
  return means;
}

/** The sums of some blocks alone, which must be of one instrument; names of technicians are kept. */
export function keepBlocks(sums: BlockSums, blocks: readonly number[]): BlockSums {
  const instrument = sums.blockInstrument[blocks[0]!]!;
  return {
    ...selectBlocks(sums, blocks),
    models: [sums.models[sums.modelOfInstrument[instrument]!]!],
    instruments: [sums.instruments[instrument]!],
    modelOfInstrument: Int32Array.of(0),
    blockInstrument: new Int32Array(blocks.length),
  };
}
