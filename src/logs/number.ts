/** How a file writes decimals: the mark its first lines use, or `either` where they show none. */
export type DecimalMark = '.' | ',' | 'either';

const powersOfTen = Array.from({ length: 16 }, (_, exponent) => 10 ** exponent);
const decimal = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;
const thousands = /^[+-]?[1-9]\d{0,2}[.,]\d{3}$/;

/**
 * A cell as a number, or NaN when it is not one.
 *
 * Read are plain decimals (`4`, `+3`, `-0.5`, `.5`, `1.5e0`), with a decimal point or a decimal comma, the minus sign
 * U+2212 and spaces around. Not read: words (`NaN`, `Infinity`), other bases (`0x10`), digit groups (`1,234.5`), units,
 * and what would be a digit group in a file that writes the other mark (`1,234` among decimal points).
 */
export function parseNumber(cell: string, mark: DecimalMark): number {
  // Up to 15 digits over a power of ten up to 10^15 are both exact in double precision, so their quotient is rounded
  // once, as Number() would round it (Clinger 1990, "How to read floating point numbers accurately").
  const length = cell.length;
  const first = cell.charCodeAt(0);
  const start = first === 0x2d || first === 0x2b ? 1 : 0;
  if (length > start && length - start <= 16) {
    let mantissa = 0;
    let point = -1;
    let at = start;
    for (; at < length; at++) {
      const code = cell.charCodeAt(at);
      if (code >= 0x30 && code <= 0x39) mantissa = mantissa * 10 + (code - 0x30);
      else if (point < 0 && ((code === 0x2e && mark !== ',') || (code === 0x2c && mark !== '.'))) point = at;
      else break;
    }
    const digits = length - start - (point < 0 ? 0 : 1);
    if (at === length && digits > 0 && digits <= 15) {
      const size = point < 0 ? mantissa : mantissa / powersOfTen[length - point - 1]!;
      return first === 0x2d ? -size : size;
    }
  }
  return parseUnusual(cell, mark);
}

function parseUnusual(cell: string, mark: DecimalMark): number {
  const text = cell.trim().replace(/^\u2212/, '-');
  const comma = text.includes(',');
  if (comma && text.includes('.')) return NaN;
  if (mark !== 'either' && (comma ? ',' : '.') !== mark && thousands.test(text)) return NaN;
  const pointed = text.replace(',', '.');
  const value = decimal.test(pointed) ? Number(pointed) : NaN;
  return Number.isFinite(value) ? value : NaN;
}

/**
 * Which decimal mark some cells show. A cell that could also be a digit group (`1,234`) counts only where no other
 * cell decides.
 *
 * @param fallback what to say when the cells show nothing or both alike
 */
export function decimalMarkOf(cells: Iterable<string>, fallback: DecimalMark): DecimalMark {
  const clear = { '.': 0, ',': 0 };
  const unclear = { '.': 0, ',': 0 };
  for (const cell of cells) {
    const text = cell.trim();
    const [, mark] = /^[+\-\u2212]?\d*([.,])\d+$/.exec(text) ?? [];
    if (mark === '.' || mark === ',') (thousands.test(text) ? unclear : clear)[mark]++;
  }
  for (const count of [clear, unclear]) if (count['.'] !== count[',']) return count['.'] > count[','] ? '.' : ',';
  return fallback;
}
