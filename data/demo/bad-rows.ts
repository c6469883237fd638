import type { BrokenRule, Log, LogRow } from './dialects.ts';
import { demoModels } from './models.ts';
import type { Random } from './random.ts';

/** A row to be put into a log, made from one of its good rows by breaking exactly one rule. */
interface BadRow {
  readonly log: string;
  readonly rule: BrokenRule;
  /** The header's column at fault, in a wide line without a reading the first fret's; empty where it is the whole line. */
  readonly column: string;
  /** The cells that differ from the good row's. */
  readonly change?: (cells: LogRow['cells']) => Record<string, string>;
  readonly damage?: (line: string) => string;
  /** Which good rows it can be made from. */
  readonly from?: (cells: LogRow['cells']) => boolean;
  readonly at?: 'the end of the log';
}

const isHz = (cells: LogRow['cells']): boolean => (cells.hz ?? '') !== '';
const isCents = (cells: LogRow['cells']): boolean => (cells.cents ?? '') !== '';
const beyondLastFret = (cells: LogRow['cells']): Record<string, string> => ({
  fret: String(demoModels.find(({ model }) => model === cells.model)!.frets + 1),
});

const badRows: readonly BadRow[] = [
  { log: 'tech-a-jan-feb.csv', rule: 'missing', column: 'instrument', change: () => ({ instrument: '' }) },
  { log: 'tech-a-jan-feb.csv', rule: 'not-a-number', column: 'cents', change: () => ({ cents: 'sharp' }) },
  { log: 'tech-a-jan-feb.csv', rule: 'not-a-number', column: 'open_cents', change: () => ({ open_cents: 'in tune' }) },
  { log: 'tech-a-jan-feb.csv', rule: 'fret-range', column: 'fret', change: () => ({ fret: '0' }) },
  {
    log: 'tech-a-jan-feb.csv',
    rule: 'string-range',
    column: 'string',
    change: () => ({ string: '7' }),
    from: (cells) => cells.model !== 'Teasel 7',
  },
  {
    log: 'tech-a-jan-feb.csv',
    rule: 'not-a-date',
    column: 'measured_at',
    change: () => ({ measured_at: '2026-02-30' }),
  },
  {
    log: 'tech-a-jan-feb.csv',
    rule: 'unclosed-quote',
    column: 'note',
    damage: (line) => `${line}"called away, read again later`,
  },
  {
    log: 'tech-a-mar-apr.csv',
    rule: 'no-reading',
    column: 'cents',
    change: () => ({ cents: '', hz: '', open_hz: '' }),
  },
  { log: 'tech-a-mar-apr.csv', rule: 'not-positive', column: 'hz', change: () => ({ hz: '0' }), from: isHz },
  {
    log: 'tech-a-mar-apr.csv',
    rule: 'no-reference',
    column: 'hz',
    // A3 an octave up: a whole tone below what is usual, so no usual tuning can stand in for the one models.csv lacks.
    change: () => ({ cents: '', hz: '440.3172', open_hz: '' }),
    from: (cells) => cells.model === 'Teasel 7' && cells.string === '2',
  },
  {
    log: 'tech-a-mar-apr.csv',
    rule: 'cents-range',
    column: 'cents',
    from: isCents,
    change: () => ({ cents: '702.0' }),
  },
  {
    // A decimal comma in a file of commas: one field too many.
    log: 'tech-a-mar-apr.csv',
    rule: 'field-count',
    column: '',
    from: isCents,
    damage: (line) => line.replace(/^((?:[^,]*,){5}[^,]*)\./, '$1,'),
  },
  { log: 'tech-a-may-jun.csv', rule: 'unknown-word', column: 'winding', change: () => ({ winding: 'wrapped' }) },
  { log: 'tech-a-may-jun.csv', rule: 'fret-range', column: 'fret', change: beyondLastFret, from: isCents },
  { log: 'tech-a-may-jun.csv', rule: 'not-whole', column: 'fret', change: () => ({ fret: '12.5' }), from: isCents },
  {
    log: 'tech-a-may-jun.csv',
    rule: 'not-text',
    column: 'technician',
    change: () => ({ technician: 'tech-a\u0007' }),
  },
  { log: 'tech-b-jan-mar.tsv', rule: 'no-reading', column: 'f1', change: () => ({ f12: '' }) },
  { log: 'tech-b-jan-mar.tsv', rule: 'not-a-number', column: 'f12', change: () => ({ f12: 'ok' }) },
  { log: 'tech-b-jan-mar.tsv', rule: 'string-range', column: 'string', change: () => ({ string: '0' }) },
  {
    log: 'tech-b-jan-mar.tsv',
    rule: 'fret-range',
    column: 'f21',
    from: (cells) => cells.model === 'Kettle 6',
    change: (cells) => ({ f12: '', f21: cells.f12! }),
  },
  {
    log: 'tech-b-apr-jun.csv',
    rule: 'field-count',
    column: '',
    damage: (line) => line.slice(0, line.lastIndexOf(',')),
  },
  {
    log: 'tech-b-apr-jun.csv',
    rule: 'not-text',
    column: 'instrument',
    change: (cells) => ({ instrument: `${cells.instrument!}\0` }),
  },
  { log: 'tech-b-apr-jun.csv', rule: 'cents-range', column: 'f12', change: () => ({ f12: '-1200' }) },
  { log: 'tech-c-jan-mar.csv', rule: 'not-a-number', column: 'cents', change: () => ({ cents: '2,3 Cent' }) },
  { log: 'tech-c-jan-mar.csv', rule: 'not-positive', column: 'gauge_mm', change: () => ({ gauge_mm: '-0,25' }) },
  { log: 'tech-c-jan-mar.csv', rule: 'not-whole', column: 'pass', change: () => ({ pass: '0,5' }) },
  { log: 'tech-c-apr-jun.csv', rule: 'unknown-word', column: 'winding', change: () => ({ winding: 'umsponnen' }) },
  { log: 'tech-c-apr-jun.csv', rule: 'missing', column: 'model', change: () => ({ model: '' }) },
  {
    log: 'tech-c-apr-jun.csv',
    rule: 'unclosed-quote',
    column: 'note',
    at: 'the end of the log',
    damage: (line) => `${line}"Feierabend, morgen weiter`,
  },
];

/**
 * Puts the planted bad rows into a log, each after the row it was made from; no good row is lost or changed.
 *
 * @param elsewhere good rows of the same technician's other logs: where no row here can be spoiled so, one of them is
 *   written into this log by mistake
 */
export function withBadRows(random: Random, log: Log, elsewhere: readonly LogRow[]): Log {
  const after = new Map<LogRow, LogRow[]>();
  const last: LogRow[] = [];
  for (const bad of badRows.filter((one) => one.log === log.path)) {
    const here = log.rows.filter((row) => isSound(row, bad));
    const from = random.pick(here.length > 0 ? here : elsewhere.filter((row) => isSound(row, bad)));
    const beside = here.includes(from) ? from : random.pick(log.rows);
    const row = spoiled(from.cells, bad, beside.cells.measured_at!);
    if (bad.at === 'the end of the log') last.push(row);
    else after.set(beside, [...(after.get(beside) ?? []), row]);
  }
  return { ...log, rows: [...log.rows.flatMap((row) => [row, ...(after.get(row) ?? [])]), ...last] };
}

/** Whether a good row without a finding, read at the 12th fret, can be spoiled in the wanted way. */
function isSound({ cells, finding }: LogRow, { from }: BadRow): boolean {
  return finding === undefined && (cells.fret ?? '12') === '12' && (from?.(cells) ?? true);
}

function spoiled(cells: LogRow['cells'], { rule, column, change, damage }: BadRow, measuredAt: string): LogRow {
  // A wide line keeps one fret, the 12th: a filled cell is a row, and a bad row is one.
  const kept = Object.entries(cells).filter(([name]) => !/^f\d+$/.test(name) || name === 'f12');
  const base = { ...Object.fromEntries(kept), note: '', measured_at: measuredAt };
  return { cells: { ...base, ...change?.(cells) }, bad: damage ? { rule, column, damage } : { rule, column } };
}
