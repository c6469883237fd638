import type { ColumnTable } from 'arquero';

/** What may stand beside a reading and bear on the rise; `wound` is 1 for a wound string and 0 for a plain one. */
export const covariates = ['gaugeMm', 'actionMm', 'reliefMm', 'pickupMm', 'wound'] as const;
export type Covariate = (typeof covariates)[number];

/**
 * Sufficient statistics of a set of readings: all that the trend fit needs, whatever the readings' number.
 *
 * A *block* is one string of one instrument at one pass, the readings between which the saddle did not move. A *cell* is
 * the readings of one technician at one fret of a block. Cells stand sorted by block, then fret, then technician; blocks by
 * instrument, string, pass.
 */
export interface BlockSums {
  readonly models: readonly string[];
  readonly instruments: readonly string[];
  /** Names of the technicians; readings without one are under `''`. */
  readonly technicians: readonly string[];
  /** Per instrument: index into `models`. */
  readonly modelOfInstrument: Int32Array;
  /** Per block: index into `instruments`, string number, pass number, and the index of its first cell; one more at the end. */
  readonly blockInstrument: Int32Array;
  readonly blockString: Int32Array;
  readonly blockPass: Int32Array;
  readonly blockStart: Int32Array;
  /** Per block: mean of each covariate that some reading has (see {@link covariates}); NaN where none of the block's has it. */
  readonly blockCovariates: Readonly<Partial<Record<Covariate, Float64Array>>>;
  /** Per cell: index into `technicians`, fret, number of readings, their mean, the sum of their squared deviations from it. */
  readonly cellTechnician: Int32Array;
  readonly cellFret: Int32Array;
  readonly cellCount: Float64Array;
  readonly cellMean: Float64Array;
  readonly cellSquares: Float64Array;
  /** Per cell: the coarsest step of the readings, in cents; 0 where not stated. */
  readonly cellResolution: Float64Array;
}

/** Gives each distinct value the next whole number, in order of first appearance. */
class Interner {
  readonly values: string[] = [];
  private readonly numbers = new Map<string, number>();

  number(value: string): number {
    let number = this.numbers.get(value);
    if (number === undefined) {
      number = this.values.length;
      this.numbers.set(value, number);
      this.values.push(value);
    }
    return number;
  }
}

/**
 * Sums readings by block, fret and technician.
 *
 * @param readings Arquero table with the columns instrument, model, string, fret, cents, pass and, where known, technician
 *                 and resolutionCents. An instrument that stands under several models counts under the one most of its
 *                 readings name.
 */
export function sumReadings(readings: ColumnTable): BlockSums {
  const size = readings.numRows();
  const column = (name: string): ArrayLike<unknown> | undefined =>
    readings.columnNames().includes(name) ? (readings.array(name) as ArrayLike<unknown>) : undefined;
  const needed = (name: string): ArrayLike<unknown> => {
    const found = column(name);
    if (!found)
      throw new RangeError(
        `Cannot sum readings without a column "${name}"; found ${readings.columnNames().join(', ')}`,
      );
    return found;
  };
  const [instrument, model, string, fret, pass] = ['instrument', 'model', 'string', 'fret', 'pass'].map(needed) as [
    ArrayLike<string>,
    ArrayLike<string>,
    ArrayLike<number>,
    ArrayLike<number>,
    ArrayLike<number>,
  ];
  const cents = needed('cents') as ArrayLike<number>;
  const technician = column('technician') as ArrayLike<string | null> | undefined;
  const resolution = column('resolutionCents') as ArrayLike<number | null> | undefined;

  const beside = besideColumns(column, size);
  const besideSums = beside.map(() => [] as number[]);
  const besideCounts = beside.map(() => [] as number[]);

  const instruments = new Interner();
  const models = new Interner();
  const technicians = new Interner();
  const modelVotes = new Map<number, Map<number, number>>();
  const cellOfKey = new Map<number, number>();
  const keys: number[][] = [[], [], [], [], []];
  const counts: number[] = [];
  const means: number[] = [];
  const squares: number[] = [];
  const steps: number[] = [];
  // Passes and technicians by number of appearance, so that a cell's key stays a whole number whatever they are called.
  const passes = new Map<number, number>();
  for (let row = 0; row < size; row++) {
    if (!passes.has(pass[row]!)) passes.set(pass[row]!, passes.size);
    technicians.number(technician?.[row] ?? '');
  }
  for (let row = 0; row < size; row++) {
    const i = instruments.number(instrument[row]!);
    const m = models.number(model[row]!);
    const t = technicians.number(technician?.[row] ?? '');
    const votes = modelVotes.get(i) ?? modelVotes.set(i, new Map()).get(i)!;
    votes.set(m, (votes.get(m) ?? 0) + 1);
    const block = (i * 64 + string[row]!) * passes.size + passes.get(pass[row]!)!;
    const key = (block * 64 + fret[row]!) * technicians.values.length + t;
    let cell = cellOfKey.get(key);
    if (cell === undefined) {
      cell = counts.length;
      cellOfKey.set(key, cell);
      for (const [at, value] of [i, string[row]!, pass[row]!, fret[row]!, t].entries()) keys[at]!.push(value);
      counts.push(0);
      means.push(0);
      squares.push(0);
      steps.push(0);
      for (const list of [...besideSums, ...besideCounts]) list.push(0);
    }
    for (let at = 0; at < beside.length; at++) {
      const value = beside[at]!.values[row];
      if (value === null || value === undefined || Number.isNaN(value)) continue;
      besideSums[at]![cell]! += value;
      besideCounts[at]![cell]! += 1;
    }
    // Welford's update keeps the squared deviations exact to rounding.
    const count = ++counts[cell]!;
    const delta = cents[row]! - means[cell]!;
    means[cell]! += delta / count;
    squares[cell]! += delta * (cents[row]! - means[cell]!);
    steps[cell] = Math.max(steps[cell]!, resolution?.[row] ?? 0);
  }

  const [cellInstrument, cellString, cellPass, cellFret, cellTechnician] = keys as [
    number[],
    number[],
    number[],
    number[],
    number[],
  ];
  const order = Array.from(counts.keys()).sort((a, b) => {
    for (const key of keys) if (key[a] !== key[b]) return key[a]! - key[b]!;
    return 0;
  });
  const starts: number[] = [];
  order.forEach((cell, at) => {
    const before = order[at - 1];
    if (before === undefined || [cellInstrument, cellString, cellPass].some((key) => key[cell] !== key[before]))
      starts.push(at);
  });
  const firstOf = (key: number[]): Int32Array => Int32Array.from(starts, (at) => key[order[at]!]!);
  const bounds = [...starts, order.length];
  const blockMeans = beside.map(({ name }, at): [Covariate, Float64Array] => [
    name,
    Float64Array.from(starts, (from, block) => {
      let [sum, count] = [0, 0];
      for (let place = from; place < bounds[block + 1]!; place++) {
        sum += besideSums[at]![order[place]!]!;
        count += besideCounts[at]![order[place]!]!;
      }
      return sum / count;
    }),
  ]);
  return {
    models: models.values,
    instruments: instruments.values,
    technicians: technicians.values,
    modelOfInstrument: Int32Array.from(instruments.values, (_, i) => mostVoted(modelVotes.get(i)!)),
    blockInstrument: firstOf(cellInstrument),
    blockString: firstOf(cellString),
    blockPass: firstOf(cellPass),
    blockStart: Int32Array.from(bounds),
    blockCovariates: Object.fromEntries(blockMeans),
    cellTechnician: Int32Array.from(order, (cell) => cellTechnician[cell]!),
    cellFret: Int32Array.from(order, (cell) => cellFret[cell]!),
    cellCount: Float64Array.from(order, (cell) => counts[cell]!),
    cellMean: Float64Array.from(order, (cell) => means[cell]!),
    cellSquares: Float64Array.from(order, (cell) => squares[cell]!),
    cellResolution: Float64Array.from(order, (cell) => steps[cell]!),
  };
}

interface BesideColumn {
  readonly name: Covariate;
  readonly values: ArrayLike<number | null>;
}

function besideColumns(column: (name: string) => ArrayLike<unknown> | undefined, size: number): BesideColumn[] {
  return covariates.flatMap((name): BesideColumn[] => {
    const values = column(name === 'wound' ? 'winding' : name);
    if (!values) return [];
    if (name !== 'wound') return [{ name, values: values as ArrayLike<number | null> }];
    const wound = Float64Array.from({ length: size }, (_, row) => woundness(values[row] as string | null));
    return [{ name, values: wound }];
  });
}

function woundness(winding: string | null | undefined): number {
  return winding === 'wound' ? 1 : winding === 'plain' ? 0 : NaN;
}

function mostVoted(votes: ReadonlyMap<number, number>): number {
  return [...votes].reduce((best, vote) => (vote[1] > best[1] ? vote : best))[0];
}

/** Mean reading of a block at a fret over its technicians and repeats, in cents; undefined where it was not read. */
export function meanAt(sums: BlockSums, block: number, fret: number): number | undefined {
  let [sum, count] = [0, 0];
  for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
    if (sums.cellFret[cell] === fret) {
      sum += sums.cellMean[cell]! * sums.cellCount[cell]!;
      count += sums.cellCount[cell]!;
    }
  return count > 0 ? sum / count : undefined;
}
