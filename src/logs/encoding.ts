import { Buffer, isUtf8 } from 'node:buffer';

/** Windows-1252 bytes 0x80 to 0x9F as code points (WHATWG Encoding Standard, index windows-1252). */
const upperRow = [
  0x20ac, 0x81, 0x201a, 0x192, 0x201e, 0x2026, 0x2020, 0x2021, 0x2c6, 0x2030, 0x160, 0x2039, 0x152, 0x8d, 0x17d, 0x8f,
  0x90, 0x2018, 0x2019, 0x201c, 0x201d, 0x2022, 0x2013, 0x2014, 0x2dc, 0x2122, 0x161, 0x203a, 0x153, 0x9d, 0x17e, 0x178,
];

/** How a file's bytes stand for text. `lines` is UTF-8, or Windows-1252 in every line that is not valid UTF-8. */
export type Encoding = 'lines' | 'utf-16le' | 'utf-16be';

/**
 * Encoding of a file from its first bytes, and how many of them are the byte order mark.
 *
 * UTF-16 is told by its mark, or by zero bytes in nearly every other place. Everything else is read line by line: text
 * that is valid UTF-8 and not ASCII is in practice never meant as Windows-1252, so a file glued together from both reads right.
 */
export function detectEncoding(start: Buffer): { readonly encoding: Encoding; readonly markBytes: number } {
  if (start[0] === 0xef && start[1] === 0xbb && start[2] === 0xbf) return { encoding: 'lines', markBytes: 3 };
  if (start[0] === 0xff && start[1] === 0xfe) return { encoding: 'utf-16le', markBytes: 2 };
  if (start[0] === 0xfe && start[1] === 0xff) return { encoding: 'utf-16be', markBytes: 2 };
  const zeros = [0, 0];
  for (let at = 0; at < Math.min(start.length, 1024); at++) if (start[at] === 0) zeros[at % 2]!++;
  const half = Math.min(start.length, 1024) / 2;
  if (zeros[1]! > 0.8 * half && zeros[0]! < 0.1 * half) return { encoding: 'utf-16le', markBytes: 0 };
  if (zeros[0]! > 0.8 * half && zeros[1]! < 0.1 * half) return { encoding: 'utf-16be', markBytes: 0 };
  return { encoding: 'lines', markBytes: 0 };
}

/** Whole lines in UTF-8 or Windows-1252 as UTF-8. */
export function linesToUtf8(lines: Buffer): Buffer {
  if (isUtf8(lines)) return lines;
  // One byte of Windows-1252 is at most three of UTF-8.
  const utf8 = Buffer.allocUnsafe(3 * lines.length);
  let length = 0;
  for (let from = 0; from < lines.length;) {
    let to = from;
    let ascii = true;
    while (to < lines.length && lines[to] !== 0x0a && lines[to] !== 0x0d) if (lines[to++]! >= 0x80) ascii = false;
    to = Math.min(to + 1, lines.length);
    if (ascii || isUtf8(lines.subarray(from, to))) length += lines.copy(utf8, length, from, to);
    else for (; from < to; from++) length = writeWindows1252(lines[from]!, utf8, length);
    from = to;
  }
  return utf8.subarray(0, length);
}

/** Writes one Windows-1252 byte as UTF-8 (RFC 3629, section 3) and returns where the next goes. */
function writeWindows1252(byte: number, utf8: Buffer, at: number): number {
  const point = byte >= 0x80 && byte < 0xa0 ? upperRow[byte - 0x80]! : byte;
  if (point < 0x80) {
    utf8[at] = point;
    return at + 1;
  }
  if (point < 0x800) {
    utf8[at] = 0xc0 | (point >> 6);
    utf8[at + 1] = 0x80 | (point & 0x3f);
    return at + 2;
  }
  utf8[at] = 0xe0 | (point >> 12);
  utf8[at + 1] = 0x80 | ((point >> 6) & 0x3f);
  utf8[at + 2] = 0x80 | (point & 0x3f);
  return at + 3;
}

/** Whole UTF-16 code units as UTF-8. */
export function utf16ToUtf8(units: Buffer, encoding: 'utf-16le' | 'utf-16be'): Buffer {
  const even = units.subarray(0, units.length - (units.length % 2));
  return Buffer.from((encoding === 'utf-16le' ? even : Buffer.from(even).swap16()).toString('utf16le'));
}
