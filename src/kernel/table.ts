import { inspect } from 'node:util';
import type { MimeBundle } from '../notebook/cell.ts';

/** What the kernel needs of a table; Arquero's have it, and so may others. */
interface TableLike {
  numRows(): number;
  columnNames(): string[];
  objects(options?: { limit?: number }): Record<string, unknown>[];
}

/** Rows shown of a table; its caption tells how many there are. */
const mostRows = 50;
/** Characters a line of the text form may have, as a terminal has. */
const lineWidth = 80;

export function isTable(value: object): value is TableLike {
  return ['numRows', 'columnNames', 'objects'].every(
    (name) => typeof (value as Record<string, unknown>)[name] === 'function',
  );
}

/** A table as HTML with a caption, as text and as JSON: the first rows, and how many there are in all. */
export function tableBundle(table: TableLike): MimeBundle {
  const names = table.columnNames();
  const rows = table.objects({ limit: mostRows });
  const count = table.numRows();
  const caption =
    rows.length < count ? `First ${rows.length} of ${count} rows` : `${count} ${count === 1 ? 'row' : 'rows'}`;
  const cells = rows.map((row) => names.map((name) => cellText(row[name])));
  const isNumeric = names.map(
    (name) => rows.some((row) => isNumber(row[name])) && rows.every((row) => isNumber(row[name] ?? 0)),
  );
  return {
    'text/html': html(names, cells, isNumeric, caption),
    'text/plain': text(names, cells, isNumeric, caption),
    'application/json': { rows: count, columns: names, data: rows },
  };
}

function isNumber(value: unknown): boolean {
  return typeof value === 'number' || typeof value === 'bigint';
}

function cellText(value: unknown): string {
  if (value === null || value === undefined) return '';
  if (typeof value === 'number') return Number.isInteger(value) ? String(value) : String(Number(value.toPrecision(6)));
  if (value instanceof Date) return Number.isNaN(value.getTime()) ? 'no date' : value.toISOString();
  if (typeof value === 'string') return value;
  return typeof value === 'object' ? JSON.stringify(value) : inspect(value);
}

function html(names: string[], cells: string[][], isNumeric: boolean[], caption: string): string {
  const attribute = (column: number): string => (isNumeric[column] ? ' class="number"' : '');
  const head = names.map((name, column) => `<th scope="col"${attribute(column)}>${escape(name)}</th>`).join('');
  const body = cells.map(
    (row) => `<tr>${row.map((value, column) => `<td${attribute(column)}>${escape(value)}</td>`).join('')}</tr>`,
  );
  return [
    `<table><caption>${escape(caption)}</caption>`,
    `<thead><tr>${head}</tr></thead>`,
    `<tbody>${body.join('\n')}</tbody></table>`,
  ].join('\n');
}

/** Columns in fixed width; those that do not fit in a line are left out, and counted. */
function text(names: string[], cells: string[][], isNumeric: boolean[], caption: string): string {
  const widths = names.map((name, column) =>
    Math.min(30, Math.max(name.length, ...cells.map((row) => row[column]!.length))),
  );
  let fitting = 0;
  for (let used = 0; fitting < names.length; fitting += 1) {
    used += widths[fitting]! + (fitting > 0 ? 2 : 0);
    if (used > lineWidth && fitting > 0) break;
  }
  const line = (row: string[]): string =>
    row
      .slice(0, fitting)
      .map((value, column) => {
        const width = widths[column]!;
        const short = value.length > width ? `${value.slice(0, width - 1)}…` : value;
        return isNumeric[column] ? short.padStart(width) : short.padEnd(width);
      })
      .join('  ')
      .trimEnd();
  const hidden = names.length - fitting;
  const rule = widths.slice(0, fitting).map((width) => '-'.repeat(width));
  return [
    line(names),
    rule.join('  '),
    ...cells.map(line),
    hidden > 0 ? `(${caption}; ${hidden} more columns: ${names.slice(fitting).join(', ')})` : `(${caption})`,
  ].join('\n');
}

function escape(text: string): string {
  return text.replace(/[&<>"']/g, (character) => `&#${character.charCodeAt(0)};`);
}
