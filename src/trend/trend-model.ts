import type { BlockSums } from '../sources/block-sums.ts';
import type { Columns, MixedDescription, RandomTerm } from '../statistics/mixed/description.ts';
import type { ContrastRows } from './contrast-rows.ts';
import { type CentredCovariate, covariateTerm } from './covariate-effects.ts';

/** Which parts of the reading-level model the readings can tell apart. */
export interface Identified {
  /** Nut offsets apart from rises: needs strings read at three frets or more, on several instruments. */
  readonly nut: boolean;
  readonly nutByModel: boolean;
  /** Hands apart: at least two technicians with several instruments each, linked by models that more than one of them read. */
  readonly technicians: boolean;
  readonly technicianNuts: boolean;
  /** Models apart from instruments: some model with two instruments or more. */
  readonly models: boolean;
  readonly strings: boolean;
  readonly modelStrings: boolean;
  /** Strings of one instrument apart from single readings: some string read more than once (passes, repeats, many frets). */
  readonly instrumentStrings: boolean;
  /** Nut offsets of single strings apart from single readings: on average more than two rows a string are left of its readings. */
  readonly stringNuts: boolean;
  /** Instruments apart from their strings: some instrument with two strings or more. */
  readonly instruments: boolean;
}

const several = 3;

/** The last fret whose reading a rise has no part in. */
const lastWithoutRise = 12;

/** The frets of a block, each once. */
function fretsOf(sums: BlockSums, block: number): Set<number> {
  return new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1]));
}

/** Whether a block tells of a rise, its saddle aside: read at two frets or more, one of them above the 12th. */
export function tellsRise(sums: BlockSums, block: number): boolean {
  const frets = fretsOf(sums, block);
  return frets.size > 1 && [...frets].some((fret) => fret > lastWithoutRise);
}

/** Tells from the sums alone what can be estimated; what cannot is left out of the model and said in the report. */
export function identify(sums: BlockSums): Identified {
  const denseInstruments = new Set<number>();
  const strings = new Set<number>();
  let allRows = 0;
  const rowsOfString = new Map<number, number>();
  const stringsOfModel = new Map<number, Set<number>>();
  const stringsOfInstrument = new Map<number, Set<number>>();
  const instrumentsOfModel = new Map<number, Set<number>>();
  const instrumentsOfCell = new Map<number, Set<number>>();
  const modelsOfTechnician = sums.technicians.map(() => new Set<number>());
  const instrumentsOfTechnician = sums.technicians.map(() => new Set<number>());
  const denseOfTechnician = sums.technicians.map(() => new Set<number>());
  for (let block = 0; block < sums.blockString.length; block++) {
    const instrument = sums.blockInstrument[block]!;
    const model = sums.modelOfInstrument[instrument]!;
    const string = sums.blockString[block]!;
    const cells = Array.from(
      { length: sums.blockStart[block + 1]! - sums.blockStart[block]! },
      (_, at) => sums.blockStart[block]! + at,
    );
    const rows = cells.reduce((sum, cell) => sum + sums.cellCount[cell]!, -1);
    allRows += rows;
    if (rows > 0) strings.add(instrument * 64 + string);
    if (tellsRise(sums, block)) {
      rowsOfString.set(instrument * 64 + string, (rowsOfString.get(instrument * 64 + string) ?? 0) + rows);
      addTo(stringsOfModel, model, string);
      addTo(stringsOfInstrument, instrument, string);
      addTo(instrumentsOfModel, model, instrument);
      addTo(instrumentsOfCell, model * 64 + string, instrument);
      for (const cell of cells) {
        instrumentsOfTechnician[sums.cellTechnician[cell]!]!.add(instrument);
        modelsOfTechnician[sums.cellTechnician[cell]!]!.add(model);
      }
    }
    if (fretsOf(sums, block).size < 3) continue;
    denseInstruments.add(instrument);
    for (const cell of cells) denseOfTechnician[sums.cellTechnician[cell]!]!.add(instrument);
  }
  const everyString = new Set([...stringsOfModel.values()].flatMap((strings) => [...strings]));
  const nut = denseInstruments.size >= several;
  const technicians =
    sums.technicians.length > 1 &&
    instrumentsOfTechnician.every((set) => set.size >= several) &&
    areLinked(modelsOfTechnician);
  const denseModels = new Set([...denseInstruments].map((instrument) => sums.modelOfInstrument[instrument]!));
  const crossed = [...everyString].some(
    (string) => [...stringsOfModel.values()].filter((set) => set.has(string)).length > 1,
  );
  const severalOf = (sets: ReadonlyMap<number, Set<number>>): boolean => [...sets.values()].some((set) => set.size > 1);
  return {
    nut,
    nutByModel: nut && denseModels.size > 1,
    technicians,
    technicianNuts: technicians && nut && denseOfTechnician.every((set) => set.size >= several),
    models: stringsOfModel.size > 1 && severalOf(instrumentsOfModel),
    strings: everyString.size > 1,
    modelStrings: crossed && stringsOfModel.size > 1 && everyString.size > 1 && severalOf(instrumentsOfCell),
    instrumentStrings: [...rowsOfString.values()].some((rows) => rows > 1),
    stringNuts: nut && allRows > 2 * strings.size,
    instruments: severalOf(stringsOfInstrument),
  };
}

/** Whether sets hang together: from any to any other by way of sets that have a member in common. */
function areLinked(sets: readonly ReadonlySet<number>[]): boolean {
  const reached = new Set(sets[0]);
  let left = sets.slice(1);
  for (let before = -1; left.length !== before;) {
    before = left.length;
    left = left.filter((set) => {
      const touches = [...set].some((member) => reached.has(member));
      if (touches) for (const member of set) reached.add(member);
      return !touches;
    });
  }
  return left.length === 0;
}

function addTo(map: Map<number, Set<number>>, key: number, value: number): void {
  const set = map.get(key);
  if (set) set.add(value);
  else map.set(key, new Set([value]));
}

/** Square roots of the robust weights: per instrument, and per block (equal for the blocks of one string). */
export interface RootWeights {
  readonly instrument: ArrayLike<number>;
  readonly block: ArrayLike<number>;
}

/**
 * The mixed model of the projected rows, as columns and a description for `fitMixed`.
 *
 *     y = nut_m + a_js + (rise_ms + b_j + c_js) u(n) + hand and covariate terms + beta_jsp g(n) + e,
 *     rise_ms = shop + string + model + model:string
 *
 * A string's weight w divides the variances of a, c and e: response and all other covariates are multiplied by sqrt(w), those of
 * a and c are not. An instrument's weight divides the variance of b: its covariate is divided by sqrt(w). Given the weights the
 * model is normal (scale mixtures; Pinheiro, Liu & Wu 2001, J. Comput. Graph. Stat. 10, 249).
 */
export function trendModel(
  sums: BlockSums,
  rows: ContrastRows,
  {
    identified,
    root,
    covariates,
  }: {
    readonly identified: Identified;
    readonly root: RootWeights;
    readonly covariates: readonly CentredCovariate[];
  },
): { readonly columns: Columns; readonly description: MixedDescription } {
  const instrumentOf = (row: number): number => sums.blockInstrument[rows.block[row]!]!;
  const label = (of: (row: number) => number): Int32Array => Int32Array.from(rows.block, (_, row) => of(row));
  const weight = Float64Array.from(rows.block, (block) => root.block[block]!);
  const times = (values: ArrayLike<number>, factor: ArrayLike<number>): Float64Array =>
    Float64Array.from(values, (value, row) => value * factor[row]!);
  const columns: Record<string, ArrayLike<number>> = {
    response: times(rows.response, weight),
    nut: times(rows.nut, weight),
    rise: times(rows.rise, weight),
    instrumentRise: Float64Array.from(
      rows.rise,
      (value, row) => (value * weight[row]!) / root.instrument[instrumentOf(row)]!,
    ),
    stringRise: rows.rise,
    stringNut: rows.nut,
    model: label((row) => sums.modelOfInstrument[instrumentOf(row)]!),
    instrument: label(instrumentOf),
    string: label((row) => sums.blockString[rows.block[row]!]!),
  };
  const fixed = ['rise', ...(identified.nut ? ['nut'] : [])];
  const last = sums.technicians.length - 1;
  const contrast = (kind: 'rise' | 'nut', by: readonly Float64Array[]): void => {
    for (let technician = 0; technician < last; technician++) {
      const name = technicianTerm(kind, technician);
      columns[name] = times(
        by[technician]!.map((value, row) => value - by[last]![row]!),
        weight,
      );
      fixed.push(name);
    }
  };
  if (identified.technicians) contrast('rise', rows.riseByTechnician);
  if (identified.technicianNuts) contrast('nut', rows.nutByTechnician);

  for (const { name, perBlock } of covariates) {
    columns[covariateTerm(name)] = Float64Array.from(
      rows.rise,
      (rise, row) => rise * weight[row]! * perBlock[rows.block[row]!]!,
    );
    fixed.push(covariateTerm(name));
  }

  const random: RandomTerm[] = [];
  const add = (use: boolean, group: string[], effect: string): void => {
    if (use) random.push({ group, effects: [effect] });
  };
  add(identified.instrumentStrings, ['instrument', 'string'], 'stringRise');
  add(identified.stringNuts, ['instrument', 'string'], 'stringNut');
  add(identified.instruments, ['instrument'], 'instrumentRise');
  add(identified.modelStrings, ['model', 'string'], 'rise');
  add(identified.strings, ['string'], 'rise');
  add(identified.models, ['model'], 'rise');
  add(identified.nutByModel, ['model'], 'nut');
  return {
    columns,
    description: { response: 'response', intercept: false, fixed: fixed.map((numeric) => ({ numeric })), random },
  };
}

/** Name of the column that holds a technician's departure from the mean hand. */
export function technicianTerm(kind: 'rise' | 'nut', technician: number): string {
  return `${kind} of technician ${technician}`;
}
