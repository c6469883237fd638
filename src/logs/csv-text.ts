/**
 * CSV text (RFC 4180: commas, CRLF, quotes doubled) that a spreadsheet opens safely: a text cell that begins with `=`,
 * `+`, `-`, `@`, a tab or a carriage return gets an apostrophe before it, so that it cannot run as a formula. Numbers, and
 * text that is a plain number, stay as they are; null and undefined give an empty cell.
 */
export function csvText(header: readonly string[], rows: Iterable<readonly unknown[]>): string {
  const line = (cells: readonly unknown[]): string => cells.map((cell) => csvCell(cell)).join(',');
  const lines = [line(header)];
  for (const row of rows) lines.push(line(row));
  return `${lines.join('\r\n')}\r\n`;
}

/** One cell of such a text, in a file whose cells `separator` divides. */
export function csvCell(value: unknown, separator = ','): string {
  if (value === null || value === undefined) return '';
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  const runs = /^[=+\-@\t\r]/.test(text) && !/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(text);
  const safe = runs ? `'${text}` : text;
  return safe.includes(separator) || /["\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
