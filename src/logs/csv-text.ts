/**
 * CSV text (RFC 4180: commas, CRLF, quotes doubled) that a spreadsheet opens safely: a text cell that begins with `=`,
 * `+`, `-`, `@`, a tab or a carriage return gets an apostrophe before it, so that it cannot run as a formula. Numbers, and
 * text that is a plain number, stay as they are; null and undefined give an empty cell.
 */
export function csvText(header: readonly string[], rows: Iterable<readonly unknown[]>): string {
  const lines = [header.map(csvCell).join(',')];
  for (const row of rows) lines.push(row.map(csvCell).join(','));
  return `${lines.join('\r\n')}\r\n`;
}

function csvCell(value: unknown): string {
  if (value === null || value === undefined) return '';
  const text = typeof value === 'string' ? value : JSON.stringify(value);
  const runs = /^[=+\-@\t\r]/.test(text) && !/^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(text);
  const safe = runs ? `'${text}` : text;
  return /[",\r\n]/.test(safe) ? `"${safe.replaceAll('"', '""')}"` : safe;
}
