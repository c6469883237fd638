import { saddleLeverage } from '../acoustics/frets.ts';
import { moveCentsLinear } from '../acoustics/saddle.ts';
import type { ReadingColumns } from './columns.ts';
import type { ModelSpec } from './models.ts';

/** Readings that are possible but look wrong; they stay among the readings. */
export interface Finding {
  readonly kind:
    | 'duplicate'
    | 'two-models'
    | 'large-error'
    | 'twelfth-without-seventeenth'
    | 'sign-slip'
    | 'whole-numbers'
    | 'assumed-tuning'
    | 'unknown-model';
  readonly file: string;
  readonly line: number;
  readonly instrument: string;
  /** String number; null where the finding is not about one string. */
  readonly string: number | null;
  readonly message: string;
}

/** Above this, in cents either way, a reading is more likely a misread string or fret than an instrument. */
const largeCents = 50;
/** A technician with fewer readings than this may read whole numbers by chance. */
const fewReadings = 5;
/** A saddle's response must miss the expected one by more than reading noise: this many cents at the 12th fret. */
const slipCents = 2;
const commonScaleMm = 648;

/**
 * Findings over all readings, in the order of the readings.
 *
 * @param models models known from models.csv; empty when there is none, and then no model is unknown
 */
export function findSuspicious(columns: ReadingColumns, models: ReadonlyMap<string, ModelSpec>): Finding[] {
  const found: { row: number; finding: Finding }[] = [];
  const add: Add = (kind, row, message, onString = true) => {
    found.push({
      row,
      finding: {
        kind,
        file: textAt(columns, 'file', row)!,
        line: columns.line[row]!,
        instrument: textAt(columns, 'instrument', row)!,
        string: onString ? columns.string[row]! : null,
        message,
      },
    });
  };
  findModels(columns, models, add);
  findLarge(columns, add);
  findWholeNumbers(columns, add);
  findInStrings(columns, models, add);
  return found.sort((a, b) => a.row - b.row).map(({ finding }) => finding);
}

type Add = (kind: Finding['kind'], row: number, message: string, onString?: boolean) => void;

function textAt(columns: ReadingColumns, name: keyof ReadingColumns['text'], row: number): string | null {
  return columns.dictionaries[name].values[columns.text[name][row]!]!;
}

function place(columns: ReadingColumns, row: number): string {
  return `${textAt(columns, 'file', row)}:${columns.line[row]}`;
}

function findModels(columns: ReadingColumns, models: ReadonlyMap<string, ModelSpec>, add: Add): void {
  const { instrument, model } = columns.text;
  const firstRow = new Int32Array(columns.dictionaries.instrument.values.length).fill(-1);
  const seen = new Set<number>();
  const told = new Set<number>();
  for (let row = 0; row < columns.length; row++) {
    const first = firstRow[instrument[row]!]!;
    if (first < 0) firstRow[instrument[row]!] = row;
    else if (model[first] !== model[row] && !told.has(instrument[row]!)) {
      told.add(instrument[row]!);
      const [before, here] = [textAt(columns, 'model', first), textAt(columns, 'model', row)];
      add('two-models', row, `is model "${here}" here and "${before}" at ${place(columns, first)}`, false);
    }
    if (models.size > 0 && !seen.has(model[row]!)) {
      seen.add(model[row]!);
      const name = textAt(columns, 'model', row)!;
      if (!models.has(name)) add('unknown-model', row, `model "${name}" is not in models.csv`, false);
    }
  }
}

function findLarge(columns: ReadingColumns, add: Add): void {
  for (let row = 0; row < columns.length; row++) {
    const cents = columns.cents[row]!;
    if (Math.abs(cents) > largeCents)
      add('large-error', row, `${signed(cents)} cents at fret ${columns.fret[row]}: check string, fret and sign`);
  }
}

function findWholeNumbers(columns: ReadingColumns, add: Add): void {
  const { technician } = columns.text;
  const { values } = columns.dictionaries.technician;
  const hands = values.map(() => ({ first: -1, readings: 0, whole: true }));
  for (let row = 0; row < columns.length; row++) {
    const hand = hands[technician[row]!]!;
    if (hand.readings++ === 0) hand.first = row;
    if (!Number.isInteger(columns.cents[row]!)) hand.whole = false;
  }
  for (const [code, { first, readings, whole }] of hands.entries()) {
    if (!whole || readings < fewReadings) continue;
    const name = values[code] ?? null;
    const who = name === null ? 'readings without a technician' : `readings by technician "${name}"`;
    add('whole-numbers', first, `all ${readings} ${who} are whole cents: rounded, or read off a coarse display`, false);
  }
}

/** What needs the readings of one string side by side: duplicates, a 12th alone, a saddle that answers the wrong way. */
function findInStrings(columns: ReadingColumns, models: ReadonlyMap<string, ModelSpec>, add: Add): void {
  for (const rows of byString(columns)) {
    findDuplicates(columns, rows, add);
    // Rows of one pass after those of another, each in reading order: the order the sort keeps.
    const inOrder = rows.every((row, index) => index === 0 || columns.pass[row]! >= columns.pass[rows[index - 1]!]!);
    const sorted = inOrder ? rows : rows.slice().sort((a, b) => columns.pass[a]! - columns.pass[b]! || a - b);
    let before: Uint32Array | undefined;
    for (let from = 0; from < sorted.length;) {
      const pass = columns.pass[sorted[from]!]!;
      let to = from + 1;
      while (to < sorted.length && columns.pass[sorted[to]!] === pass) to++;
      const here = sorted.subarray(from, to);
      const twelfth = here.find((row) => columns.fret[row] === 12);
      if (twelfth !== undefined && !here.some((row) => columns.fret[row] === 17))
        add('twelfth-without-seventeenth', twelfth, `pass ${pass} has the 12th fret and not the 17th`);
      if (before) findSignSlip(columns, { before, here, models, add });
      before = here;
      from = to;
    }
  }
}

/** Rows of each string of each instrument, every group in reading order. */
function* byString(columns: ReadingColumns): Generator<Uint32Array> {
  const { length } = columns;
  const { instrument } = columns.text;
  const groups = columns.dictionaries.instrument.values.length * 16;
  const starts = new Uint32Array(groups + 1);
  const group = (row: number): number => instrument[row]! * 16 + columns.string[row]!;
  for (let row = 0; row < length; row++) starts[group(row) + 1]!++;
  for (let each = 0; each < groups; each++) starts[each + 1]! += starts[each]!;
  const next = starts.slice();
  const order = new Uint32Array(length);
  for (let row = 0; row < length; row++) order[next[group(row)]!++] = row;
  for (let each = 0; each < groups; each++)
    if (starts[each + 1]! > starts[each]!) yield order.subarray(starts[each], starts[each + 1]);
}

/** Groups up to this size are compared pair by pair, larger ones through a map of keys. */
const fewRows = 40;

function findDuplicates(columns: ReadingColumns, rows: Uint32Array, add: Add): void {
  const { technician, measuredAt } = columns.text;
  const { pass, fret, cents } = columns;
  const tell = (row: number, twin: number): void => {
    add('duplicate', row, `the same reading of fret ${fret[row]} stands at ${place(columns, twin)}`);
  };
  if (rows.length > fewRows) {
    const first = new Map<string, number>();
    for (const row of rows) {
      const key = `${pass[row]} ${fret[row]} ${cents[row]} ${technician[row]} ${measuredAt[row]}`;
      const twin = first.get(key);
      if (twin === undefined) first.set(key, row);
      else tell(row, twin);
    }
    return;
  }
  for (let later = 1; later < rows.length; later++)
    for (let earlier = 0; earlier < later; earlier++) {
      const [row, twin] = [rows[later]!, rows[earlier]!];
      if (cents[row] !== cents[twin] || fret[row] !== fret[twin] || pass[row] !== pass[twin]) continue;
      if (technician[row] !== technician[twin] || measuredAt[row] !== measuredAt[twin]) continue;
      tell(row, twin);
      break;
    }
}

interface Step {
  readonly before: Uint32Array;
  readonly here: Uint32Array;
  readonly models: ReadonlyMap<string, ModelSpec>;
  readonly add: Add;
}

/**
 * A saddle moved back flattens (DESIGN section 3), in proportion to g(n). The measured change per unit of g, by least
 * squares through the frets both passes have, is set against the expected one.
 */
function findSignSlip(columns: ReadingColumns, { before, here, models, add }: Step): void {
  const saddle = columns.covariates.saddleMm;
  if (!saddle) return;
  const from = saddle[before.find((row) => !Number.isNaN(saddle[row]!)) ?? -1] ?? NaN;
  const at = here.find((row) => !Number.isNaN(saddle[row]!));
  const moveMm = at === undefined ? NaN : saddle[at]! - from;
  if (at === undefined || Number.isNaN(moveMm) || moveMm === 0) return;
  let product = 0;
  let square = 0;
  for (const row of here) {
    const earlier = before.filter((each) => columns.fret[each] === columns.fret[row]);
    if (earlier.length === 0) continue;
    const mean = earlier.reduce((sum, each) => sum + columns.cents[each]!, 0) / earlier.length;
    const leverage = saddleLeverage(columns.fret[row]!);
    product += leverage * (columns.cents[row]! - mean);
    square += leverage * leverage;
  }
  if (square === 0) return;
  const stated = columns.covariates.scaleMm?.[at] ?? NaN;
  const scaleMm = Number.isNaN(stated) ? (models.get(textAt(columns, 'model', at)!)?.scaleMm ?? commonScaleMm) : stated;
  const expected = moveCentsLinear(12, moveMm, scaleMm);
  const measured = product / square;
  if (measured * expected < 0 && Math.abs(measured - expected) > slipCents)
    add(
      'sign-slip',
      at,
      `saddle moved ${Math.abs(moveMm).toFixed(2)} mm ${moveMm > 0 ? 'back' : 'forward'} and the string read ` +
        `${signed(measured)} cents at the 12th, expected ${signed(expected)}: check the signs`,
    );
}

function signed(cents: number): string {
  return `${cents < 0 ? '-' : '+'}${Math.abs(cents).toFixed(1)}`;
}
