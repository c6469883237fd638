import { expect, test } from 'vitest';
import { detectEncoding, linesToUtf8, utf16ToUtf8 } from '../../src/logs/encoding.ts';

// WHATWG Encoding Standard, index windows-1252, bytes 0x80 to 0x9F. (The index maps the five bytes that Windows-1252 leaves
// free to the control characters of the same number.)
const upperRow =
  '\u20ac\u0081\u201a\u0192\u201e\u2026\u2020\u2021\u02c6\u2030\u0160\u2039\u0152\u008d\u017d\u008f' +
  '\u0090\u2018\u2019\u201c\u201d\u2022\u2013\u2014\u02dc\u2122\u0161\u203a\u0153\u009d\u017e\u0178';

test('linesToUtf8 reads every byte of Windows-1252', () => {
  const bytes = Buffer.from(Array.from({ length: 0x80 }, (_, index) => 0x80 + index));
  // Bytes 0xA0 to 0xFF are those of ISO 8859-1 (Node's latin1).
  expect(linesToUtf8(bytes).toString()).toBe(upperRow + bytes.subarray(0x20).toString('latin1'));
});

test('linesToUtf8 decides line by line, whatever ends a line', () => {
  const utf8 = Buffer.from('Zoë €\r\n');
  const other = Buffer.from([0x5a, 0x6f, 0xeb, 0x20, 0x80, 0x0d]);
  expect(linesToUtf8(Buffer.concat([utf8, other, utf8, other])).toString()).toBe('Zoë €\r\nZoë €\rZoë €\r\nZoë €\r');
  expect(linesToUtf8(utf8)).toBe(utf8);
});

test('detectEncoding tells UTF-16 with and without its mark, and passes a mark over', () => {
  const text = 'instrument,model\n';
  const little = Buffer.from(text, 'utf16le');
  expect(detectEncoding(Buffer.from(`\ufeff${text}`))).toEqual({ encoding: 'lines', markBytes: 3 });
  expect(detectEncoding(Buffer.from(text))).toEqual({ encoding: 'lines', markBytes: 0 });
  expect(detectEncoding(little)).toEqual({ encoding: 'utf-16le', markBytes: 0 });
  expect(detectEncoding(Buffer.from(little).swap16())).toEqual({ encoding: 'utf-16be', markBytes: 0 });
  expect(detectEncoding(Buffer.from(`\ufeff${text}`, 'utf16le'))).toEqual({ encoding: 'utf-16le', markBytes: 2 });
  expect(utf16ToUtf8(Buffer.from(little).swap16(), 'utf-16be').toString()).toBe(text);
});
