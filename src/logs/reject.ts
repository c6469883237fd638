import { csvText } from './csv-text.ts';

/** Why a row was refused. */
export type RejectRule =
  | 'missing'
  | 'no-reading'
  | 'not-a-number'
  | 'not-whole'
  | 'fret-range'
  | 'string-range'
  | 'not-positive'
  | 'cents-range'
  | 'not-a-date'
  | 'unknown-word'
  | 'field-count'
  | 'unclosed-quote'
  | 'not-text'
  | 'no-reference';

/** A row that was refused; nothing of it is lost. */
export interface Reject {
  readonly file: string;
  /** 1-based physical line, as an editor numbers it; the first line of a record that spans several. */
  readonly line: number;
  /** The column's header as the file spells it; empty when the whole line is at fault. */
  readonly column: string;
  readonly found: string;
  readonly rule: RejectRule;
  /** The raw line as read, without its line break; of a record that spans several lines, all of them. */
  readonly text: string;
}

/** What each rule expects, worded to stand after "expected". */
export const expected: Readonly<Record<RejectRule, string>> = {
  missing: 'a value',
  'no-reading': 'a reading in cents or in hertz',
  'not-a-number': 'a number such as 1.5 or -2',
  'not-whole': 'a whole number such as 0, 1 or 2',
  'fret-range': 'a fret of this model from 1 to at most 36; fret 0 is the open string',
  'string-range': 'a string of this model; string 1 is the thinnest',
  'not-positive': 'a number above 0',
  'cents-range': 'at most 600 cents either way; this cannot be this string at this fret',
  'not-a-date': 'a date or time in ISO 8601 such as 2026-03-14 or 2026-03-14T09:30',
  'unknown-word': 'plain or wound',
  'field-count': 'one field for each column of the header',
  'unclosed-quote': 'a closing quote before the next separator or at the end of the text',
  'not-text': 'text without control characters',
  'no-reference': 'the open string in open_hz, or the tuning of this model in models.csv',
};

/** A found text for a message: control characters made visible, long text cut short. */
function show(found: string): string {
  const visible = found.replace(
    // eslint-disable-next-line no-control-regex
    /[\u0000-\u001f\u007f]/g,
    (character) => `\\x${character.charCodeAt(0).toString(16).padStart(2, '0')}`,
  );
  return visible.length > 60 ? `${visible.slice(0, 59)}…` : visible;
}

/** One sentence for the person who must mend the row: file, line, column, what was found and what was expected. */
export function explain({ file, line, column, found, rule }: Reject): string {
  const place = column === '' ? '' : `, column "${column}"`;
  const what = found === '' ? 'nothing' : column === '' || rule === 'unclosed-quote' ? show(found) : `"${show(found)}"`;
  return `${file}:${line}${place}: found ${what}, expected ${expected[rule]}`;
}

/** Columns of a list of rejects. */
export const rejectColumns = ['file', 'line', 'column', 'found', 'rule', 'expected', 'text'] as const;

/** Rejects as CSV, one row a reject, with what was expected. */
export function rejectsToCsv(rejects: readonly Reject[]): string {
  return csvText(
    rejectColumns,
    rejects.map(({ file, line, column, found, rule, text }) => [file, line, column, found, rule, expected[rule], text]),
  );
}
