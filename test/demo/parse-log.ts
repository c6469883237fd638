import { parse } from 'csv-parse/sync';
import type { ShopTruth } from '../../data/demo/make-shop.ts';

/** One reading as written in a demo log, in plain numbers. */
export interface Written {
  readonly instrument: string;
  readonly model: string;
  readonly technician: string;
  readonly string: number;
  readonly fret: number;
  readonly pass: number;
  readonly cents: number;
  readonly saddleMm: number;
  readonly measuredAt: string;
}

/** A log's text, decoded as its dialect says by the platform's own decoder; a wrong byte throws. */
export function textOf(path: string, bytes: Uint8Array): string {
  return new TextDecoder(path.startsWith('tech-c') ? 'windows-1252' : 'utf-8', { fatal: true }).decode(bytes);
}

/** The physical lines of a log without those of its planted bad rows. */
export function goodText(path: string, bytes: Uint8Array, badRows: ShopTruth['badRows']): string {
  const bad = new Set(badRows.filter(({ file }) => file === path).map(({ line }) => line));
  return textOf(path, bytes)
    .split('\n')
    .filter((_, i) => !bad.has(i + 1))
    .join('\n');
}

/**
 * Reads a log strictly (csv-parse throws on a wrong field count or quote) and without the program's own reader, so
 * that the demo is checked by something else than what it is made for.
 */
export function parseLog(path: string, text: string): Written[] {
  const delimiter = path.startsWith('tech-c') ? ';' : path.endsWith('.tsv') ? '\t' : ',';
  const records = parse<Record<string, string>>(text, { delimiter, columns: true, record_delimiter: ['\r\n', '\n'] });
  const number = (cell: string): number => Number(delimiter === ';' ? cell.replace(',', '.') : cell);
  return records.flatMap((record) => {
    const common = {
      instrument: record.instrument!,
      model: record.model!,
      technician: record.technician!,
      string: Number(record.string),
      pass: Number(record.pass),
      saddleMm: number(record.saddle_mm!),
      measuredAt: record.measured_at!,
    };
    if (record.fret !== undefined) {
      const fret = Number(record.fret);
      return [{ ...common, fret, cents: longCents(record, number) }];
    }
    return Object.entries(record)
      .filter(([column, cell]) => /^f\d+$/.test(column) && cell !== '')
      .map(([column, cell]) => ({ ...common, fret: Number(column.slice(1)), cents: number(cell) }));
  });
}

/** The definition of the cent, against the open string as read (assumed-tuning rows come back as NaN). */
function longCents(record: Record<string, string>, number: (cell: string) => number): number {
  if (record.cents !== '') return number(record.cents!) - number(record.open_cents ?? '0');
  if (record.open_hz === '') return Number.NaN;
  return 1200 * Math.log2(Number(record.hz) / Number(record.open_hz)) - 100 * Number(record.fret);
}
