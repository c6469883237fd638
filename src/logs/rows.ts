import { cents } from '../acoustics/pitch.ts';
import {
  codeOf,
  covariates,
  reserve,
  setCovariate,
  type Covariate,
  type Dictionary,
  type ReadingColumns,
} from './columns.ts';
import type { Layout, Place } from './header.ts';
import { isIsoDate } from './iso-date.ts';
import type { LogColumn, Mapping } from './mapping.ts';
import type { ModelSpec } from './models.ts';
import { parseNumber, type DecimalMark } from './number.ts';
import type { RejectRule } from './reject.ts';
import { assumedTuningHz } from './tuning.ts';

/** What the rows of a file are read with, and where they go. */
export interface RowOptions {
  readonly layout: Layout;
  readonly decimalMark: DecimalMark;
  readonly mapping: Mapping;
  readonly models: ReadonlyMap<string, ModelSpec>;
  /** Accepted readings are added here. */
  readonly columns: ReadingColumns;
  readonly file: string;
  readonly refuse: (line: number, fault: Fault, text: string) => void;
  /** Told of every model whose strings were taken to be tuned as most are, for want of `tuning` and `open_hz`. */
  readonly assume: (model: string, line: number, instrument: string) => void;
}

/** What is wrong with a row. */
export interface Fault {
  readonly column: string;
  readonly found: string;
  readonly rule: RejectRule;
}

const covariateColumn: Record<Exclude<Covariate, 'gaugeMm'>, LogColumn> = {
  saddleMm: 'saddle_mm',
  scaleMm: 'scale_mm',
  actionMm: 'action_mm',
  reliefMm: 'relief_mm',
  pickupMm: 'pickup_mm',
  resolutionCents: 'resolution_cents',
};
const mayBeZeroOrLess: ReadonlySet<Covariate> = new Set(['saddleMm', 'reliefMm']);
const millimetresPerInch = 25.4;
const mostCents = 600;
/** A frequency further than this from an assumed tuning says that the assumption is wrong, not the reading. */
const mostCentsFromAssumed = 100;

/**
 * Makes the reader of one file's records, which must have as many fields as the header.
 *
 * @returns a function that adds a record's readings, or refuses them, and returns how many rows the record is: one in
 *   long form; in wide form one for each filled fret, or one when none is
 */
export function rowReader(options: RowOptions): (record: string[], line: number, text: () => string) => number {
  const { layout, decimalMark, mapping, models, columns, refuse } = options;
  const { columns: at, frets } = layout;
  const { dictionaries } = columns;
  const fileCode = codeOf(dictionaries.file, options.file);
  const specs: (ModelSpec | null)[] = [];
  const codes = {
    instrument: coder(dictionaries.instrument),
    model: coder(dictionaries.model),
    technician: coder(dictionaries.technician),
    measuredAt: coder(dictionaries.measuredAt),
    note: coder(dictionaries.note),
  };
  const dates: boolean[] = [];
  const gauge = at.gauge_mm ?? at.gauge_in;

  let record: string[] = [];
  let fault: Fault | null = null;
  // What a record says apart from its fret and its reading; in wide form shared by all its frets.
  const row = { instrument: 0, model: 0, string: 0, pass: 0, technician: 0, measuredAt: 0, note: 0, winding: 0 };
  const values = new Float64Array(covariates.length);
  let openCents = 0;
  let openHz = NaN;
  let spec: ModelSpec | null = null;

  const fail = (place: Place, rule: RejectRule): void => {
    fault ??= { column: place.header, found: record[place.index]!.trim(), rule };
  };
  const isEmpty = (place: Place): boolean => isBlankCell(record[place.index]!);
  /** NaN when the cell is empty, and when it is at fault. */
  const number = (place: Place | undefined): number => {
    if (place === undefined) return NaN;
    const cell = record[place.index]!;
    if (cell === '') return NaN;
    const value = parseNumber(cell, decimalMark);
    if (Number.isNaN(value) && !isBlankCell(cell)) fail(place, 'not-a-number');
    return value * place.factor;
  };
  const positive = (place: Place | undefined): number => {
    const value = number(place);
    if (value <= 0) fail(place!, 'not-positive');
    return value;
  };
  /** A whole number that must be given. */
  const whole = (place: Place): number => {
    const value = number(place);
    if (Number.isNaN(value)) fail(place, 'missing');
    else if (!Number.isInteger(value)) fail(place, 'not-whole');
    return value;
  };
  const required = (place: Place, code: (cell: string) => number): number => {
    const value = code(record[place.index]!);
    if (value === 0) fail(place, 'missing');
    return value;
  };
  const optional = (place: Place | undefined, code: (cell: string) => number): number =>
    place === undefined ? 0 : code(record[place.index]!);

  const readShared = (): void => {
    row.instrument = required(at.instrument!, codes.instrument);
    row.model = required(at.model!, codes.model);
    spec = specs[row.model] ??= models.get(dictionaries.model.values[row.model] ?? '') ?? null;
    row.string = whole(at.string!);
    if (row.string < 1 || row.string > (spec?.strings ?? 12)) fail(at.string!, 'string-range');
    row.pass = at.pass === undefined || isEmpty(at.pass) ? 0 : whole(at.pass);
    if (row.pass < 0 || row.pass > 0xffffffff) fail(at.pass!, 'not-whole');
    row.technician = optional(at.technician, codes.technician);
    row.note = optional(at.note, codes.note);
    row.measuredAt = optional(at.measured_at, codes.measuredAt);
    if (!(dates[row.measuredAt] ??= isIsoDate(dictionaries.measuredAt.values[row.measuredAt] ?? '2000')))
      fail(at.measured_at!, 'not-a-date');
    row.winding = optional(at.winding, windingCode);
    const open = number(at.open_cents);
    openCents = Number.isNaN(open) ? 0 : open;
    openHz = positive(at.open_hz);
    for (let each = 0; each < given.length; each++) values[each] = given[each]!.read();
  };
  const windingCode = (cell: string): number => {
    const word = cell.trim().toLowerCase();
    if (word !== '' && word !== 'plain' && word !== 'wound') fail(at.winding!, 'unknown-word');
    return fault ? 0 : codeOf(dictionaries.winding, word);
  };
  const readGauge = (): number => {
    if (gauge === undefined) return NaN;
    const value = positive(gauge);
    if (gauge === at.gauge_in) return value * millimetresPerInch;
    return Number.isNaN(value) ? positive(at.gauge_in) * millimetresPerInch : value;
  };

  /** The covariates this file has columns for. */
  const given = covariates.flatMap((name): { name: Covariate; read: () => number }[] => {
    if (name === 'gaugeMm') return gauge ? [{ name, read: readGauge }] : [];
    const place = at[covariateColumn[name]];
    if (!place) return [];
    return [{ name, read: mayBeZeroOrLess.has(name) ? () => number(place) : () => positive(place) }];
  });

  /** Error of one fretted note in cents, the open string's error taken off. */
  const readCents = (fret: number, line: number, centsAt: Place | undefined, hzAt: Place | undefined): number => {
    const stated = number(centsAt);
    let value = stated - openCents;
    if (Number.isNaN(stated)) {
      const hz = positive(hzAt);
      if (Number.isNaN(hz)) fail((centsAt ?? hzAt)!, 'no-reading');
      if (fault) return NaN;
      value = Number.isNaN(openHz) ? fromNominal(hz, fret, line, hzAt!) : cents(hz, openHz) - 100 * fret;
    }
    if (Math.abs(value) > mostCents) fail((Number.isNaN(stated) ? hzAt : centsAt)!, 'cents-range');
    return value + 0; // never -0
  };
  const fromNominal = (hz: number, fret: number, line: number, hzAt: Place): number => {
    const known = spec?.tuningHz;
    const nominalHz = (known ?? assumedTuningHz(spec?.strings, mapping.a4Hz))?.[row.string - 1];
    const value = nominalHz === undefined ? NaN : cents(hz, nominalHz) - 100 * fret - openCents;
    if (nominalHz === undefined || (!known && Math.abs(value) > mostCentsFromAssumed)) fail(hzAt, 'no-reference');
    else if (!known)
      options.assume(dictionaries.model.values[row.model]!, line, dictionaries.instrument.values[row.instrument]!);
    return value;
  };

  const append = (fret: number, value: number, line: number): void => {
    reserve(columns);
    const index = columns.length;
    const { text } = columns;
    text.instrument[index] = row.instrument;
    text.model[index] = row.model;
    text.technician[index] = row.technician;
    text.measuredAt[index] = row.measuredAt;
    text.note[index] = row.note;
    text.winding[index] = row.winding;
    text.file[index] = fileCode;
    columns.string[index] = row.string;
    columns.fret[index] = fret;
    columns.pass[index] = row.pass;
    columns.cents[index] = value;
    columns.line[index] = line;
    for (let each = 0; each < given.length; each++)
      if (!Number.isNaN(values[each]!)) setCovariate(columns, given[each]!.name, values[each]!);
    columns.length = index + 1;
  };
  const settle = (fret: number, value: number, line: number, text: () => string): void => {
    if (fault) refuse(line, fault, text());
    else append(fret, value, line);
  };

  const readLong = (line: number, text: () => string): number => {
    readShared();
    const fret = whole(at.fret!);
    if (fret < 1 || fret > (spec?.frets ?? 36)) fail(at.fret!, 'fret-range');
    settle(fret, fault ? NaN : readCents(fret, line, at.cents, at.hz), line, text);
    return 1;
  };
  const readWide = (line: number, text: () => string): number => {
    const filled = frets.filter((place) => !isEmpty(place));
    if (filled.length === 0) {
      refuse(line, { column: frets[0]!.header, found: '', rule: 'no-reading' }, text());
      return 1;
    }
    readShared();
    const shared = fault;
    for (const place of filled) {
      fault = shared;
      if (place.fret < 1 || place.fret > (spec?.frets ?? 36)) fail(place, 'fret-range');
      const [centsAt, hzAt] = place.reads === 'hz' ? [undefined, place] : [place, undefined];
      settle(place.fret, fault ? NaN : readCents(place.fret, line, centsAt, hzAt), line, text);
    }
    return filled.length;
  };

  return (cells, line, text) => {
    record = mapping.missing.size === 0 ? cells : cells.map((cell) => (mapping.missing.has(cell.trim()) ? '' : cell));
    fault = null;
    return frets.length === 0 ? readLong(line, text) : readWide(line, text);
  };
}

function isBlankCell(cell: string): boolean {
  return cell === '' || (!(cell.charCodeAt(0) > 0x20 && cell.charCodeAt(0) < 0x7f) && cell.trim() === '');
}

/** Codes of a column's cells; the cell above is often the same. */
function coder(dictionary: Dictionary): (cell: string) => number {
  let above = '';
  let code = 0;
  return (cell) => {
    if (cell === above) return code;
    above = cell;
    code = codeOf(dictionary, cell);
    return code;
  };
}
