import type { Buffer } from 'node:buffer';

/** How the bytes of a log are cut into records. */
export interface Framing {
  /** The separator, one ASCII byte. */
  readonly delimiter: number;
  /** What ends a line: LF (with or without a CR before it), or CR alone. */
  readonly newline: 'lf' | 'cr';
}

/** Where one record ends, and what is in it. */
export interface Scan {
  /** End of the record without its line break. */
  end: number;
  /** Start of what follows. */
  next: number;
  /** End of the record's first physical line, and the start of the line after it. */
  firstEnd: number;
  firstNext: number;
  /** Start of the record's last physical line. */
  lastStart: number;
  lines: number;
  fields: number;
  state: 'closed' | 'open' | 'stray';
  /** Start of the last quoted text that opens on the first line, and its field (0-based). */
  openAt: number;
  openField: number;
  /** A closing quote that stands right after a separator or a line break. */
  closesAtFieldStart: boolean;
  /** Start of the first field with a control character, and which it is (0-based); -1 when there is none. */
  controlAt: number;
  controlField: number;
}

const quote = 0x22;
const lf = 0x0a;
const cr = 0x0d;
const tab = 0x09;

/**
 * Finds the end of the record that starts at `from`, quoting as RFC 4180 has it, but for spaces before a quote, which are
 * let pass. A quote inside an unquoted field is text. `stray` is a closing quote with more text after it: on a line of its
 * own that is text too (as csv-parse reads it with `relax_quotes`), but a text of several lines that ends so was never closed.
 */
export function scanRecord(bytes: Buffer, from: number, { delimiter, newline }: Framing): Scan {
  const eol = newline === 'lf' ? lf : cr;
  const length = bytes.length;
  const scan: Scan = {
    end: length,
    next: length,
    firstEnd: -1,
    firstNext: -1,
    lastStart: from,
    lines: 1,
    fields: 1,
    state: 'closed',
    closesAtFieldStart: false,
    openAt: -1,
    openField: -1,
    controlAt: -1,
    controlField: -1,
  };
  let quoted = false;
  let fieldAt = from;
  /** Where the field's text starts, or will: spaces before it do not count, a quote after them opens. */
  let textAt = from;
  let at = from;
  for (; at < length; at++) {
    const byte = bytes[at]!;
    if (quoted) {
      if (byte === quote) {
        const after = at + 1 < length ? bytes[at + 1]! : eol;
        if (after === quote) {
          at++;
          continue;
        }
        quoted = false;
        const crlf = after === cr && newline === 'lf' && (at + 2 >= length || bytes[at + 2] === lf);
        if (after !== delimiter && after !== eol && !crlf) {
          scan.state = 'stray';
          if (scan.lines > 1) break;
        }
        const before = bytes[at - 1]!;
        scan.closesAtFieldStart = before === delimiter || before === lf || before === cr;
      } else if (byte === eol) {
        if (scan.lines === 1) {
          scan.firstEnd = newline === 'lf' && bytes[at - 1] === cr ? at - 1 : at;
          scan.firstNext = at + 1;
        }
        scan.lines++;
        scan.lastStart = at + 1;
      } else if ((byte < 0x20 || byte === 0x7f) && isControl(byte)) markControl(scan, fieldAt);
    } else if (byte === delimiter) {
      scan.fields++;
      fieldAt = at + 1;
      textAt = at + 1;
    } else if (byte === eol) {
      scan.end = newline === 'lf' && at > from && bytes[at - 1] === cr ? at - 1 : at;
      scan.next = at + 1;
      break;
    } else {
      if (at === textAt && (byte === 0x20 || byte === tab || byte === cr || byte === lf)) textAt++;
      else if (byte === quote && at === textAt) {
        quoted = true;
        if (scan.lines === 1) {
          scan.openAt = at;
          scan.openField = scan.fields - 1;
        }
      } else if ((byte < 0x20 || byte === 0x7f) && isControl(byte)) markControl(scan, fieldAt);
    }
  }
  if (quoted) scan.state = 'open';
  if (scan.firstEnd < 0) {
    scan.firstEnd = scan.end;
    scan.firstNext = scan.next;
  }
  return scan;
}

function isControl(byte: number): boolean {
  return byte !== tab && byte !== cr && byte !== lf;
}

function markControl(scan: Scan, fieldAt: number): void {
  if (scan.controlAt >= 0) return;
  scan.controlAt = fieldAt;
  scan.controlField = scan.fields - 1;
}
