import { csvText } from '../logs/csv-text.ts';
import type { Figure } from './figure.ts';

/** The rows that a figure draws, as CSV (RFC 4180) with a header; no cell runs as a formula in a spreadsheet. */
export function figureCsv({ data }: Figure): string {
  const columns = [...new Set(data.flatMap((row) => Object.keys(row)))];
  return csvText(
    columns,
    data.map((row) => columns.map((column) => row[column])),
  );
}
