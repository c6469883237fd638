import fc from 'fast-check';
import { expect, test } from 'vitest';
import { decimalMarkOf, parseNumber } from '../../src/logs/number.ts';

// ECMAScript's Number() rounds correctly (ECMA-262, StringToNumber): the reference for every plain decimal.
test('parseNumber rounds every decimal as Number does', () => {
  const digits = fc.string({ unit: fc.constantFrom(...'0123456789'), minLength: 1, maxLength: 20 });
  fc.assert(
    fc.property(fc.constantFrom('', '-', '+'), digits, fc.option(digits), (sign, whole, part) => {
      const text = `${sign}${whole}${part === null ? '' : `.${part}`}`;
      expect(parseNumber(text, '.')).toBe(Number(text));
      if (part !== null) expect(parseNumber(text.replace('.', ','), ',')).toBe(Number(text));
    }),
    { numRuns: 5000 },
  );
});

test('parseNumber reads back any double that is written out', () => {
  fc.assert(
    fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), (value) => {
      expect(parseNumber(String(value), '.')).toBe(value + 0); // String(-0) is "0"
    }),
  );
});

test('parseNumber never reads a text that Number would not, marks and the Unicode minus aside', () => {
  const part = fc.constantFrom(
    '1',
    '23',
    '.',
    ',',
    '-',
    '+',
    'e',
    'x',
    ' ',
    '\u2212',
    '0',
    'Infinity',
    'NaN',
    '_',
    'b',
  );
  fc.assert(
    fc.property(fc.array(part, { maxLength: 7 }), fc.constantFrom('.', ',', 'either'), (parts, mark) => {
      const text = parts.join('');
      const value = parseNumber(text, mark);
      if (!Number.isNaN(value))
        expect(value).toBe(
          Number(
            text
              .trim()
              .replace(/^\u2212/, '-')
              .replace(',', '.'),
          ),
        );
    }),
    { numRuns: 5000 },
  );
});

test.each([
  ['1,234', '.', NaN],
  ['1,234', ',', 1.234],
  ['1,234', 'either', 1.234],
  ['1.234', ',', NaN],
  ['0,234', '.', 0.234],
  ['-12,5', '.', -12.5],
  ['1,23', '.', 1.23],
  ['1,234,567', ',', NaN],
] as const)('parseNumber reads %s in a file with the mark %s as %s', (cell, mark, value) => {
  expect(parseNumber(cell, mark)).toBe(value);
});

test.each([
  [['1.5', '2'], '.'],
  [['1,5', '-2,25', '3'], ','],
  [['1,234', '2,5'], ','],
  [['1.234', '329.628'], '.'],
  [['1,234', '1,234', '0.5'], '.'],
  [['1', '2'], 'either'],
  [[], 'either'],
] as const)('decimalMarkOf %j is %s', (cells, mark) => {
  expect(decimalMarkOf(cells, 'either')).toBe(mark);
});
