import { expect, test } from 'vitest';
import type { BrokenRule } from '../../data/demo/dialects.ts';
import { defaultSeed, makeShop } from '../../data/demo/make-shop.ts';
import { textOf } from './parse-log.ts';

interface Row {
  readonly cell: string;
  readonly column: string;
  readonly line: string;
  readonly header: readonly string[];
  readonly fields: readonly string[];
}

const number = ({ cell }: Row): number => Number(cell.replace(',', '.'));
const isReading = (column: string): boolean => /^(cents|hz|f\d+)$/.test(column);

/** Each rule of DESIGN section 4 as a check of the raw row, without the program's reader. */
const breaks: Record<BrokenRule, (row: Row) => boolean> = {
  missing: ({ cell }) => cell === '',
  'no-reading': ({ header, fields }) => header.every((column, i) => !isReading(column) || fields[i] === ''),
  'not-a-number': (row) => row.cell !== '' && Number.isNaN(number(row)),
  'not-whole': (row) => number(row) % 1 === 0.5,
  // In wide form the fret is the column; no demo model has fewer than 20 frets.
  'fret-range': ({ cell, column }) =>
    ['0', '21', '22', '23', '25'].includes(column === 'fret' ? cell : column.slice(1)),
  'string-range': ({ cell }) => cell === '0' || cell === '7',
  'not-positive': (row) => number(row) <= 0,
  'cents-range': (row) => Math.abs(number(row)) > 600,
  'not-a-date': ({ cell }) => !isDay(cell.slice(0, 10)),
  'unknown-word': ({ cell }) => !['plain', 'wound', ''].includes(cell),
  'field-count': ({ line }) => !line.includes('"'),
  'unclosed-quote': ({ line }) => line.split('"').length === 2,
  // eslint-disable-next-line no-control-regex
  'not-text': ({ cell }) => /[\u0000-\u0008]/.test(cell),
  'no-reference': ({ cell, header, fields }) =>
    Number(cell) > 0 && fields[header.indexOf('open_hz')] === '' && fields[header.indexOf('model')] === 'Teasel 7',
};

function isDay(text: string): boolean {
  const time = Date.parse(`${text}T00:00:00Z`);
  return !Number.isNaN(time) && new Date(time).toISOString().startsWith(text);
}

test.each([defaultSeed, 11, 12, 13, 14])(
  'shop %i: each listed bad row stands on its line and breaks its rule',
  (seed) => {
    const { files, truth } = makeShop(seed);
    const models = String(files['models.csv']);
    expect(models).toMatch(/^Teasel 7,.*,$/m);
    for (const { file, line, column, rule } of truth.badRows) {
      const lines = textOf(file, Buffer.from(files[file]!)).split(/\r?\n/);
      const delimiter = file.startsWith('tech-c') ? ';' : file.endsWith('.tsv') ? '\t' : ',';
      const header = lines[0]!.split(delimiter);
      const fields = lines[line - 1]!.split(delimiter);
      const where = `seed ${seed} ${file}:${line} ${rule} in "${lines[line - 1]}"`;
      const fits = fields.length === header.length;
      if (rule !== 'unclosed-quote') expect(fits, where).toBe(rule !== 'field-count');
      if (column !== '') expect(header, where).toContain(column);
      // The plausible instrument may have a NUL behind it; only where it is the one missing it is not there.
      if (column !== 'instrument') expect(fields[0], where).toMatch(/^J1\d{3}\0?$/);
      const row = { cell: fields[header.indexOf(column)] ?? '', column, line: lines[line - 1]!, header, fields };
      expect(breaks[rule](row), where).toBe(true);
    }
  },
);

test('makeShop breaks every rule of the list at least once, some two dozen rows in all', () => {
  const { badRows } = makeShop(defaultSeed).truth;
  expect(new Set(badRows.map(({ rule }) => rule))).toEqual(new Set(Object.keys(breaks)));
  expect(badRows.length).toBeGreaterThanOrEqual(24);
  expect(badRows.length).toBeLessThanOrEqual(30);
});
