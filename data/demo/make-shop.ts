import { withBadRows } from './bad-rows.ts';
import { readingsIn, writeLog, type BrokenRule, type Log, type LogRow } from './dialects.ts';
import { instrumentRows, logForms } from './logs.ts';
import { modelsCsv } from './models.ts';
import { drawPlan, logOf, type Fault, type Plan } from './plan.ts';
import { seededRandom } from './random.ts';
import { readInstrument } from './readings.ts';
import {
  drawCells,
  drawInstruments,
  shopParameters,
  technicians,
  type CellTruth,
  type InstrumentTruth,
  type ShopParameters,
  type TechnicianTruth,
} from './truth.ts';

/** A row a reader must refuse, by physical line (the header is line 1). */
export interface BadRowTruth {
  readonly file: string;
  readonly line: number;
  /** Empty where the whole line is at fault (a wrong number of fields). */
  readonly column: string;
  readonly rule: BrokenRule;
}

/** A row a reader must keep and point out; `line` is where it begins, null where it concerns all of a technician's rows. */
export interface FindingTruth {
  readonly kind: string;
  readonly file: string;
  readonly line: number | null;
  readonly instrument: string | null;
  readonly string: number | null;
}

/** What the shop was made from, to compare estimates with. */
export interface ShopTruth {
  readonly seed: number;
  readonly parameters: ShopParameters;
  readonly technicians: readonly TechnicianTruth[];
  readonly cells: readonly CellTruth[];
  readonly instruments: readonly InstrumentTruth[];
  readonly faults: readonly Fault[];
  readonly findings: readonly FindingTruth[];
  readonly badRows: readonly BadRowTruth[];
  /** Per log: rows = readings + rejects. */
  readonly files: readonly {
    readonly path: string;
    readonly rows: number;
    readonly readings: number;
    readonly rejects: number;
  }[];
}

/** A shop's files by name, all in one folder (the logs and `models.csv`), and the truth behind them. */
export interface Shop {
  readonly files: Readonly<Record<string, Uint8Array | string>>;
  readonly truth: ShopTruth;
}

/** What a shop may differ in from the committed one. */
export interface ShopOptions {
  readonly parameters?: Partial<ShopParameters>;
  /** `nothing` leaves out the bad rows, the faulty instruments and the findings; by default everything is planted. */
  readonly planted?: 'everything' | 'nothing';
}

/** The seed of the committed shop. */
export const defaultSeed = 2417;

/**
 * An invented shop: 140 instruments of 8 models, read by 3 technicians into 7 logs of 3 dialects.
 *
 * The same seed and options give the same bytes. Rises, nuts and technicians' errors follow the reading-level model
 * of DESIGN section 5; the truth is drawn anew for each seed.
 *
 * @param seed whole number from 1 to 2^32 - 1
 * @throws {RangeError} when the seed is not such a number
 */
export function makeShop(seed: number, { parameters: own = {}, planted = 'everything' }: ShopOptions = {}): Shop {
  const random = seededRandom(seed);
  const parameters = { ...shopParameters, ...own };
  const cells = drawCells(random, parameters);
  const instruments = drawInstruments(random, parameters);
  const drawn = drawPlan(random, instruments);
  const plan: Plan = planted === 'everything' ? drawn : { faults: [], findings: [] };
  const slip = plan.findings.find(({ kind }) => kind === 'sign-slip');
  const rowsOf = new Map<string, LogRow[]>(logForms.map(({ path }) => [path, []]));
  for (const instrument of instruments) {
    const blocks = readInstrument(random, instrument, { parameters, cells, faults: plan.faults, slip });
    rowsOf.get(logOf(instrument))!.push(...instrumentRows(random, blocks, plan));
  }
  const logs = logForms.map((form): Log => {
    const log = { ...form, rows: rowsOf.get(form.path)! };
    if (planted === 'nothing') return log;
    const technician = form.path.slice(0, 'tech-a'.length);
    return withBadRows(
      random,
      log,
      [...rowsOf.values()].flat().filter(({ cells: { technician: by } }) => by === technician),
    );
  });
  const written = logs.map((log) => ({ log, ...writeLog(log) }));
  return {
    files: { 'models.csv': modelsCsv(), ...Object.fromEntries(written.map(({ log, bytes }) => [log.path, bytes])) },
    truth: {
      seed,
      parameters,
      technicians,
      cells,
      instruments,
      faults: plan.faults,
      findings: [...written.flatMap(({ log, lines }) => findingsIn(log, lines)), ...wholeNumbers(logs)],
      badRows: written.flatMap(({ log, lines }) => badRowsIn(log, lines)),
      files: logs.map(counted),
    },
  };
}

function badRowsIn({ path, rows }: Log, lines: readonly number[]): BadRowTruth[] {
  return rows.flatMap(({ bad }, i) =>
    bad ? [{ file: path, line: lines[i]!, column: bad.column, rule: bad.rule }] : [],
  );
}

function findingsIn({ path, rows }: Log, lines: readonly number[]): FindingTruth[] {
  return rows.flatMap(({ cells, finding }, i) => {
    if (finding === undefined) return [];
    const string = Number(cells.string);
    return [{ kind: finding, file: path, line: lines[i]!, instrument: cells.instrument!, string }];
  });
}

/** The technicians whose tuner shows whole cents, one finding for each, named by the first of their logs. */
function wholeNumbers(logs: readonly Log[]): FindingTruth[] {
  return technicians
    .filter(({ resolutionCents }) => resolutionCents >= 1)
    .map(({ technician }) => {
      const { path } = logs.find((log) => log.path.startsWith(technician))!;
      return { kind: 'whole-numbers', file: path, line: null, instrument: null, string: null };
    });
}

function counted(log: Log): ShopTruth['files'][number] {
  const bad = log.rows.filter((row) => row.bad);
  const readings = log.rows.reduce((sum, row) => sum + (row.bad ? 0 : readingsIn(log, row)), 0);
  return { path: log.path, rows: readings + bad.length, readings, rejects: bad.length };
}
