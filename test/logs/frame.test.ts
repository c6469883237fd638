import fc from 'fast-check';
import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { cellsOf, framer } from '../../src/logs/frame.ts';
import type { Framing } from '../../src/logs/scan.ts';

interface Cut {
  readonly records: { line: number; text: string; cells: string[] }[];
  readonly refused: { line: number; text: string }[];
}

/** Frames a text given in pieces of whole lines. */
function cut(pieces: readonly string[], framing: Framing, fields: number): Cut {
  const frame = framer(framing, { fields, looksLikeRow: (line) => line.split(',').length === fields, firstLine: 1 });
  const all: Cut = { records: [], refused: [] };
  pieces.forEach((piece, index) => {
    const frames = frame(Buffer.from(piece), index === pieces.length - 1);
    const cells = cellsOf(frames, framing);
    frames.lines.forEach((line, record) =>
      all.records.push({ line, text: frames.text(record), cells: cells[record]! }),
    );
    all.refused.push(...frames.refused.map(({ line, text }) => ({ line, text })));
  });
  return all;
}

const comma = { delimiter: 0x2c, newline: 'lf' } as const;
const newline = fc.constantFrom('\n', '\r\n');
const anyText = fc
  .array(
    fc.oneof(
      { weight: 3, arbitrary: fc.constantFrom('a', '1', ' ', 'é', '\t', ';') },
      { weight: 2, arbitrary: fc.constantFrom(',', '"') },
      { weight: 2, arbitrary: newline },
      { weight: 1, arbitrary: fc.constantFrom('\r', '\u0000', '""', '","', ',"', '",') },
    ),
    { maxLength: 80 },
  )
  .map((parts) => parts.join(''));

/** A text cut after some of its line breaks. */
const inPieces = (text: fc.Arbitrary<string>): fc.Arbitrary<string[]> =>
  text.chain((whole) => {
    const lines = whole.match(/[^\n]*\n|[^\n]+$/g) ?? [''];
    return fc.array(fc.boolean(), { minLength: lines.length, maxLength: lines.length }).map((cuts) => {
      const pieces: string[] = [''];
      lines.forEach((line, index) => {
        pieces[pieces.length - 1] += line;
        if (cuts[index]) pieces.push('');
      });
      return pieces;
    });
  });

test('framer loses no line: records and refused lines are the text, line by line, wherever it is cut', () => {
  fc.assert(
    fc.property(inPieces(anyText), fc.integer({ min: 1, max: 4 }), (pieces, fields) => {
      const { records, refused } = cut(pieces, comma, fields);
      const lines = pieces.join('').split('\n');
      const covered = new Map<number, string>();
      for (const { line, text } of [...records, ...refused])
        text.split('\n').forEach((part, index) => {
          expect(covered.has(line + index), 'a line read twice').toBe(false);
          covered.set(line + index, part);
        });
      lines.forEach((text, index) => {
        const found = covered.get(index + 1);
        if (found === undefined) expect(text.trim()).toBe('');
        else expect([text, text.replace(/\r$/, '')]).toContain(found);
      });
    }),
    { numRuns: 1500 },
  );
});

test('framer gives the same records wherever the text is cut', () => {
  fc.assert(
    fc.property(inPieces(anyText), fc.integer({ min: 1, max: 4 }), (pieces, fields) => {
      expect(cut(pieces, comma, fields)).toEqual(cut([pieces.join('')], comma, fields));
    }),
    { numRuns: 1000 },
  );
});

// csv-parse reads the whole text at once, without our framing: general-purpose reference software.
test('framer leaves a table written as RFC 4180 asks to csv-parse unchanged, and numbers its lines', () => {
  const cell = fc
    .array(fc.constantFrom('a', '1', ' ', 'é', ',', '"', ';', '\n', '\r\n', 'zz'), { maxLength: 6 })
    .map((parts) => parts.join(''));
  const table = fc
    .integer({ min: 2, max: 5 })
    .chain((fields) =>
      fc.tuple(
        newline,
        fc.array(fc.array(cell, { minLength: fields, maxLength: fields }), { minLength: 1, maxLength: 12 }),
        fc.boolean(),
      ),
    );
  fc.assert(
    fc.property(table, ([eol, rows, ends]) => {
      const lines = rows.map((row) => row.map((each) => `"${each.replaceAll('"', '""')}"`).join(','));
      const text = lines.join(eol) + (ends ? eol : '');
      const frame = framer(comma, { fields: rows[0]!.length, looksLikeRow: () => false, firstLine: 1 });
      const { records, recordDelimiter, refused, lines: numbers } = frame(Buffer.from(text), true);
      expect(refused).toEqual([]);
      expect(parse(records, { record_delimiter: recordDelimiter })).toEqual(parse(text, { record_delimiter: eol }));
      let line = 1;
      lines.forEach((written, index) => {
        expect(numbers[index]).toBe(line);
        line += written.split('\n').length;
      });
    }),
    { numRuns: 500 },
  );
});

test('framer reads a file with CR line breaks alone', () => {
  const { records, refused } = cut(['a,b\rc,"d\re"\r\rf\rg,h'], { delimiter: 0x2c, newline: 'cr' }, 2);
  expect(records.map(({ line, cells }) => [line, ...cells])).toEqual([
    [1, 'a', 'b'],
    [2, 'c', 'd\re'],
    [6, 'g', 'h'],
  ]);
  expect(refused).toEqual([{ line: 5, text: 'f' }]);
});

test('framer takes a record longer than any note for a quote never closed', () => {
  const start = `a,"${'x'.repeat(80)}`;
  const text = `${start}\n${`${'y'.repeat(1023)}\n`.repeat(140)}"\nc,d\n`;
  for (const pieces of [[text], text.match(/[^]{1,20000}\n/g)!]) {
    const { refused, records } = cut(pieces, comma, 2);
    expect(refused[0]).toEqual({ line: 1, text: start });
    expect(records.at(-1)!.cells).toEqual(['c', 'd']);
  }
});
