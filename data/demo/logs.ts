import { hzAbove, hzOfNote } from '../../src/acoustics/pitch.ts';
import { written, type Dialect, type Log, type LogRow } from './dialects.ts';
import { logOf, modelOf, type Fault, type Plan, type PlannedFinding } from './plan.ts';
import type { Random } from './random.ts';
import { noteFor } from './notes.ts';
import type { Block } from './readings.ts';
import { technicians } from './truth.ts';

const commas: Dialect = { delimiter: ',', decimal: '.', newline: '\n', encoding: 'utf-8' };
const semicolons: Dialect = { delimiter: ';', decimal: ',', newline: '\r\n', encoding: 'windows-1252' };
const tabs: Dialect = { delimiter: '\t', decimal: '.', newline: '\r\n', encoding: 'utf-8' };
const commasWithMark: Dialect = { ...commas, newline: '\r\n', encoding: 'utf-8 with byte order mark' };

const place = ['instrument', 'model', 'string', 'fret', 'pass'];
const bench = ['measured_at', 'technician', 'saddle_mm'];
const wideColumns = [
  ...['instrument', 'model', 'string', 'pass', ...bench, 'resolution_cents'],
  ...[1, 3, 5, 7, 9, 12, 14, 15, 17, 19, 21].map((fret) => `f${fret}`),
  'note',
];
const germanColumns = [
  ...[...place, 'cents', ...bench, 'gauge_mm', 'winding'],
  ...['action_mm', 'relief_mm', 'pickup_mm', 'resolution_cents', 'note'],
];
const stringColumns = ['winding', 'action_mm', 'resolution_cents', 'note'];
const hzColumns = [...place, 'cents', 'hz', 'open_hz', ...bench, 'gauge_mm', ...stringColumns];

/** The shop's log files, in the order in which they are written: path, dialect and columns. */
export const logForms: readonly Omit<Log, 'rows'>[] = [
  {
    path: 'tech-a-jan-feb.csv',
    dialect: commas,
    columns: [...place, 'cents', 'open_cents', ...bench, 'gauge_in', ...stringColumns],
  },
  { path: 'tech-a-mar-apr.csv', dialect: commas, columns: hzColumns },
  { path: 'tech-a-may-jun.csv', dialect: commas, columns: hzColumns },
  { path: 'tech-b-jan-mar.tsv', dialect: tabs, columns: wideColumns },
  { path: 'tech-b-apr-jun.csv', dialect: commasWithMark, columns: wideColumns },
  { path: 'tech-c-jan-mar.csv', dialect: semicolons, columns: germanColumns },
  { path: 'tech-c-apr-jun.csv', dialect: semicolons, columns: germanColumns },
];

/** What is written about a whole instrument beside its readings. */
interface Sheet {
  readonly form: Omit<Log, 'rows'>;
  /** Frequencies instead of cents. */
  readonly writesHz: boolean;
  /** What each open string read, in cents, where it was written down instead of tuned out. */
  readonly openCents: readonly number[];
  readonly actionMm: number;
  readonly reliefMm: number;
  readonly pickupMm: number;
}

/** The rows of one instrument's readings in the form of the log it belongs to, findings put in as planned. */
export function instrumentRows(random: Random, blocks: readonly Block[], { findings, faults }: Plan): LogRow[] {
  const { instrument } = blocks[0]!;
  const finding = findings.find((one) => one.instrument === instrument.instrument);
  const fault = faults.find((one) => one.instrument === instrument.instrument);
  const sheet = drawSheet(random, blocks[0]!, { finding, fault });
  const rows = blocks.flatMap((block) => {
    const own = finding?.string === block.string ? finding : undefined;
    const note = noteFor(random, instrument.technician);
    return sheet.form.columns.includes('f12')
      ? [wideRow(block, { sheet, note, finding: own })]
      : longRows(random, block, { sheet, note, finding: own });
  });
  if (finding?.kind === 'duplicate') {
    const again = rows.find(({ cells }) => cells.string === String(finding.string))!;
    rows.push({ cells: { ...again.cells, note: '' }, finding: 'duplicate' });
  }
  return rows;
}

function drawSheet(
  random: Random,
  { instrument }: Block,
  { finding, fault }: { finding: PlannedFinding | undefined; fault: Fault | undefined },
): Sheet {
  const form = logForms.find(({ path }) => path === logOf(instrument))!;
  const writesOwnWay = random.uniform() < 0.4;
  return {
    form,
    writesHz: form.columns.includes('hz') && (writesOwnWay || finding?.kind === 'assumed-tuning'),
    openCents: modelOf(instrument).tuning.map(() =>
      form.columns.includes('open_cents') && writesOwnWay ? Math.round(random.normal(10)) / 10 : 0,
    ),
    actionMm: 1.4 + 0.8 * random.uniform(),
    reliefMm: 0.1 + 0.2 * random.uniform(),
    pickupMm: (fault?.kind === 'poor-low-strings' ? 0.8 : 2) + random.uniform(),
  };
}

interface Writing {
  readonly sheet: Sheet;
  readonly note: string;
  /** The finding planned for this string, if any. */
  readonly finding: PlannedFinding | undefined;
}

/** The cells that a wide line and a long row share. */
function commonCells(block: Block, { sheet }: Writing): Record<string, string> {
  const { instrument, string, pass, time, saddleMm } = block;
  const model = modelOf(instrument);
  const { dialect } = sheet.form;
  const gaugeMm = model.gaugeMm[string - 1]!;
  const { resolutionCents } = technicians.find((one) => one.technician === instrument.technician)!;
  const clock = { 'tech-a': `T${time}:00Z`, 'tech-b': '', 'tech-c': `T${time}` }[instrument.technician];
  return {
    instrument: instrument.instrument,
    model: model.model,
    string: String(string),
    pass: String(pass),
    measured_at: instrument.day + clock,
    technician: instrument.technician,
    saddle_mm: written(saddleMm, 2, dialect),
    gauge_mm: written(gaugeMm, 2, dialect),
    gauge_in: written(gaugeMm / 25.4, 3, dialect),
    winding: string >= model.woundFrom ? 'wound' : 'plain',
    // Lower strings are set higher, in even steps across the neck.
    action_mm: written(sheet.actionMm + (0.4 * (string - 1)) / (model.tuning.length - 1), 1, dialect),
    relief_mm: written(sheet.reliefMm, 2, dialect),
    pickup_mm: written(sheet.pickupMm, 1, dialect),
    resolution_cents: written(resolutionCents, resolutionCents < 1 ? 1 : 0, dialect),
  };
}

function wideRow(block: Block, writing: Writing): LogRow {
  const { finding, note } = writing;
  const lacks17 = finding?.kind === 'twelfth-without-seventeenth' && block.pass === 1;
  const cells: Record<string, string> = { ...commonCells(block, writing), note };
  for (const { fret, cents } of block.readings) cells[`f${fret}`] = written(cents, 0, writing.sheet.form.dialect);
  return lacks17 ? { cells: { ...cells, f17: '' }, finding: finding.kind } : { cells };
}

function longRows(random: Random, block: Block, writing: Writing): LogRow[] {
  const { sheet, note, finding } = writing;
  const { dialect } = sheet.form;
  const common = commonCells(block, writing);
  const openCents = sheet.openCents[block.string - 1]!;
  const nominalHz = hzOfNote(modelOf(block.instrument).tuning[block.string - 1]!);
  const openHz = nominalAsRead(random, nominalHz);
  const lacksOpen = finding?.kind === 'assumed-tuning' && block.pass === 0;
  return block.readings.map(({ fret, cents }, i) => {
    const isWild = finding?.kind === 'large-error' && block.pass === 0 && fret === 5;
    // A neighbouring string rang along, and the tuner followed it.
    const read = cents + (isWild ? 58 : 0);
    const cells: Record<string, string> = { ...common, fret: String(fret), note: i === 0 ? note : '' };
    if (sheet.writesHz) {
      const referenceHz = lacksOpen ? nominalHz : openHz;
      cells.hz = written(hzAbove(referenceHz, 100 * fret + read), 4, dialect);
      if (!lacksOpen) cells.open_hz = written(openHz, 4, dialect);
    } else {
      cells.cents = written(read + openCents, 1, dialect);
      if (openCents !== 0) cells.open_cents = written(openCents, 1, dialect);
    }
    if (finding?.kind === 'two-models' && block.pass === 1) cells.model = wrongModel(common.model!);
    return isWild || (i === 0 && marksBlock(finding, block)) ? { cells, finding: finding!.kind } : { cells };
  });
}

/** Whether a block's first row is the one its planned finding is listed by. */
function marksBlock(finding: PlannedFinding | undefined, { pass }: Block): boolean {
  if (finding?.kind === 'assumed-tuning') return pass === 0;
  return (finding?.kind === 'two-models' || finding?.kind === 'sign-slip') && pass === 1;
}

/** An open string as read before tuning, written with 4 decimals: what is written is what the readings refer to. */
function nominalAsRead(random: Random, nominalHz: number): number {
  return Math.round(hzAbove(nominalHz, random.normal(1)) * 1e4) / 1e4;
}

function wrongModel(model: string): string {
  return model === 'Larch 6' ? 'Thimble 6' : 'Larch 6';
}
