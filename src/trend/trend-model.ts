import type { BlockSums } from '../sources/block-sums.ts';
import type { Columns, MixedDescription, RandomTerm } from '../statistics/mixed/description.ts';
import type { ContrastRows } from './contrast-rows.ts';

/** Which parts of the reading-level model the readings can tell apart. */
export interface Identified {
  /** Nut offsets apart from rises: needs strings read at three frets or more, on several instruments. */
  readonly nut: boolean;
  readonly nutByModel: boolean;
  /** Hands apart: at least two technicians with several instruments each. */
  readonly technicians: boolean;
  readonly technicianNuts: boolean;
  readonly models: boolean;
  readonly strings: boolean;
  readonly modelStrings: boolean;
  /** Strings of one instrument apart from single readings: some string read more than once (passes, repeats, many frets). */
  readonly instrumentStrings: boolean;
  /** Instruments apart from their strings: some instrument with two strings or more. */
  readonly instruments: boolean;
}

const several = 3;

/** Tells from the sums alone what can be estimated; what cannot is left out of the model and said in the report. */
export function identify(sums: BlockSums): Identified {
  const denseInstruments = new Set<number>();
  const rowsOfString = new Map<number, number>();
  const stringsOfModel = new Map<number, Set<number>>();
  const stringsOfInstrument = new Map<number, Set<number>>();
  const instrumentsOfTechnician = sums.technicians.map(() => new Set<number>());
  const denseOfTechnician = sums.technicians.map(() => new Set<number>());
  for (let block = 0; block < sums.blockString.length; block++) {
    const instrument = sums.blockInstrument[block]!;
    const string = sums.blockString[block]!;
    const frets = new Set<number>();
    let rows = -1;
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++) {
      frets.add(sums.cellFret[cell]!);
      rows += sums.cellCount[cell]!;
      instrumentsOfTechnician[sums.cellTechnician[cell]!]!.add(instrument);
    }
    if (rows < 1) continue;
    rowsOfString.set(instrument * 64 + string, (rowsOfString.get(instrument * 64 + string) ?? 0) + rows);
    addTo(stringsOfModel, sums.modelOfInstrument[instrument]!, string);
    addTo(stringsOfInstrument, instrument, string);
    if (frets.size < 3) continue;
    denseInstruments.add(instrument);
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      denseOfTechnician[sums.cellTechnician[cell]!]!.add(instrument);
  }
  const everyString = new Set([...stringsOfModel.values()].flatMap((strings) => [...strings]));
  const nut = denseInstruments.size >= several;
  const technicians = sums.technicians.length > 1 && instrumentsOfTechnician.every((set) => set.size >= several);
  const denseModels = new Set([...denseInstruments].map((instrument) => sums.modelOfInstrument[instrument]!));
  const crossed = [...everyString].some(
    (string) => [...stringsOfModel.values()].filter((set) => set.has(string)).length > 1,
  );
  return {
    nut,
    nutByModel: nut && denseModels.size > 1,
    technicians,
    technicianNuts: technicians && nut && denseOfTechnician.every((set) => set.size >= several),
    models: stringsOfModel.size > 1,
    strings: everyString.size > 1,
    modelStrings: crossed && stringsOfModel.size > 1 && everyString.size > 1,
    instrumentStrings: [...rowsOfString.values()].some((rows) => rows > 1),
    instruments: [...stringsOfInstrument.values()].some((strings) => strings.size > 1),
  };
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
 *     y = nut_m + a_js + (rise_ms + b_j + c_js) u(n) + hand terms + beta_jsp g(n) + e,   rise_ms = shop + string + model + model:string
 *
 * A string's weight w divides the variances of a, c and e: response and all other covariates are multiplied by sqrt(w), those of
 * a and c are not. An instrument's weight divides the variance of b: its covariate is divided by sqrt(w). Given the weights the
 * model is normal (scale mixtures; Pinheiro, Liu & Wu 2001, J. Comput. Graph. Stat. 10, 249).
 */
export function trendModel(
  sums: BlockSums,
  rows: ContrastRows,
  identified: Identified,
  root: RootWeights,
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

  const random: RandomTerm[] = [];
  const add = (use: boolean, group: string[], effect: string): void => {
    if (use) random.push({ group, effects: [effect] });
  };
  add(identified.instrumentStrings, ['instrument', 'string'], 'stringRise');
  add(identified.nut, ['instrument', 'string'], 'stringNut');
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
