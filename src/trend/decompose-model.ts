import type { BlockSums } from '../sources/block-sums.ts';
import { selectBlocks } from '../sources/select-blocks.ts';
import type { Combination, RandomPart } from '../statistics/mixed/combine.ts';
import type { Columns, MixedDescription, RandomTerm } from '../statistics/mixed/description.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import type { Cause } from './causes.ts';
import { type ContrastRows, projectSaddle } from './contrast-rows.ts';
import type { RowModel } from './robust-fit.ts';
import { type Identified, identify, type RootWeights, trendModel } from './trend-model.ts';

/** What the readings of one model, or of some of its instruments, can tell of causes. */
export interface CauseParts {
  readonly identified: Identified;
  readonly isOneInstrument: boolean;
  /** Cents at every cell, by cause. */
  readonly shapes: readonly Float64Array[];
  readonly causes: readonly Cause[];
}

/** Fewest frets of a string on one pass from which causes can be told apart at all. */
export const fewestFrets = 5;

/** The blocks of some instruments alone; technicians who read none of them are left out. */
export function onlyInstruments(sums: BlockSums, keep: ReadonlySet<number>): BlockSums {
  const kept = selectBlocks(
    sums,
    [...sums.blockInstrument.keys()].filter((block) => keep.has(sums.blockInstrument[block]!)),
  );
  const technicians = [...new Set(kept.cellTechnician)].sort((a, b) => a - b);
  return {
    ...kept,
    technicians: technicians.map((technician) => sums.technicians[technician]!),
    cellTechnician: kept.cellTechnician.map((technician) => technicians.indexOf(technician)),
  };
}

/** Cents of a cause of size 1 at every cell. */
export function shapeOf(sums: BlockSums, { shape }: Pick<Cause, 'shape'>): Float64Array {
  const cents = new Float64Array(sums.cellFret.length);
  for (let block = 0; block < sums.blockString.length; block++)
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      cents[cell] = shape(sums.blockString[block]!, sums.cellFret[cell]!);
  return cents;
}

/** The readings with cents taken off at every cell. */
export function less(sums: BlockSums, cents: ArrayLike<number>): BlockSums {
  return { ...sums, cellMean: sums.cellMean.map((mean, cell) => mean - cents[cell]!) };
}

/** Any cents by cell, projected as the readings are: the saddle's part gone. */
export function projected(sums: BlockSums, cents: Float64Array, sigma: number): Float64Array {
  return projectSaddle({ ...sums, cellMean: cents, cellSquares: new Float64Array(cents.length) }, sigma).response;
}

/** Tells what the readings can hold apart beside the causes. */
export function causeParts(sums: BlockSums, causes: readonly Cause[]): CauseParts {
  const identified = identify(sums);
  const isOneInstrument = new Set(sums.blockInstrument).size === 1;
  return {
    identified: {
      ...identified,
      nut: true,
      nutByModel: false,
      models: false,
      modelStrings: false,
      strings: identified.strings && !isOneInstrument,
      instruments: identified.instruments && !isOneInstrument,
      stringNuts: true,
    },
    isOneInstrument,
    shapes: causes.map((cause) => shapeOf(sums, cause)),
    causes,
  };
}

/** Name of the term of a cause's size. */
export function causeTerm({ name }: Pick<Cause, 'name'>): string {
  return `size of ${name}`;
}

/**
 * The projected rows as a mixed model of causes:
 *
 *     y = nut + a_s + a_js + sum_c size_c shape_c(s, n) + (rest + r_s + b_j + c_js) u(n) + hands + beta_jsp g(n) + e
 *
 * `rest` is what no cause explains of the rise; a_s and r_s are the nut slot and the rest of one string on all instruments. For
 * one instrument a_js and c_js stand for both.
 */
export function decomposeModel(
  sums: BlockSums,
  rows: ContrastRows,
  { parts, root, sigma }: { readonly parts: CauseParts; readonly root: RootWeights; readonly sigma: number },
): RowModel {
  const { identified, shapes, causes, isOneInstrument } = parts;
  const model = trendModel(sums, rows, { identified, root, covariates: [] });
  const columns: Record<string, Columns[string]> = { ...model.columns };
  causes.forEach((cause, at) => {
    columns[causeTerm(cause)] = projected(sums, shapes[at]!, sigma).map(
      (value, row) => value * root.block[rows.block[row]!]!,
    );
  });
  const random: RandomTerm[] = [...model.description.random];
  if (!isOneInstrument && identified.strings) random.push({ group: ['string'], effects: ['nut'] });
  const description: MixedDescription = {
    ...model.description,
    fixed: [...causes.map((cause) => ({ numeric: causeTerm(cause) })), ...(model.description.fixed as [])],
    random,
  };
  return { columns, description, shared: (fit) => stringsShare(sums, rows, fit, parts) };
}

/** What one string adds to nut and rest beyond the mean of all. */
export function stringParts(kind: 'nut' | 'rise', string: number, parts: CauseParts, instrument: number): RandomPart[] {
  if (parts.isOneInstrument) {
    const effect = kind === 'nut' ? 'stringNut' : 'stringRise';
    const isIn = kind === 'nut' ? parts.identified.stringNuts : parts.identified.instrumentStrings;
    return isIn ? [{ group: ['instrument', 'string'], level: [instrument, string], effect }] : [];
  }
  return parts.identified.strings ? [{ group: ['string'], level: [string], effect: kind }] : [];
}

/** Per row: what the row's string adds on all instruments. */
function stringsShare(sums: BlockSums, rows: ContrastRows, fit: MixedFit, parts: CauseParts): Float64Array {
  if (parts.isOneInstrument || !parts.identified.strings) return new Float64Array(rows.rise.length);
  const strings = [...new Set(Array.from(rows.block, (block) => sums.blockString[block]!))];
  const of = (kind: 'nut' | 'rise'): readonly number[] =>
    fit.predict(strings.map((string): Combination => ({ random: stringParts(kind, string, parts, 0) })));
  const [nuts, rises] = [of('nut'), of('rise')];
  return rows.rise.map((rise, row) => {
    const at = strings.indexOf(sums.blockString[rows.block[row]!]!);
    return nuts[at]! * rows.nut[row]! + rises[at]! * rise;
  });
}
