import { expect, test } from 'vitest';
import { equalPlacement } from '../../src/acoustics/placement.ts';
import { readFretPositions } from '../../src/logs/fret-positions.ts';

/** Positions of an invented neck of 648 mm, rounded to a hundredth as a caliper shows them. */
const neck = equalPlacement(648, 12).nutToFretMm.map((mm) => mm.toFixed(2));
const rowsOf = (cells: readonly string[]): string =>
  cells
    .map((cell, fret) => `${fret},${cell}\n`)
    .slice(1)
    .join('');
const changed = (fret: number, cell: string): string[] => neck.map((mm, at) => (at === fret ? cell : mm));

test('readFretPositions reads frets, repeats, strings and scale lengths', () => {
  const { positions, problems } = readFretPositions(
    'string,fret,nut_to_fret_mm,scale_mm\n1,1,36.37,648\n1,1,36.4,648\n6,1,38.5,686\n,2,70.7,\n',
    'neck.csv',
  );
  expect(problems).toEqual([]);
  expect(positions).toEqual([
    { string: 1, fret: 1, nutToFretMm: 36.37, scaleMm: 648, line: 2 },
    { string: 1, fret: 1, nutToFretMm: 36.4, scaleMm: 648, line: 3 },
    { string: 6, fret: 1, nutToFretMm: 38.5, scaleMm: 686, line: 4 },
    { string: null, fret: 2, nutToFretMm: 70.7, scaleMm: null, line: 5 },
  ]);
});

test('readFretPositions reads semicolons, decimal commas, CRLF, a byte order mark and inches in a column of inches', () => {
  const { positions, problems } = readFretPositions('\ufeffFret;Nut to fret in\r\n1;1,431\r\n\r\n2;2,782\r\n', 'n.csv');
  expect(problems).toEqual([]);
  // An inch is 25.4 mm exactly.
  expect(positions.map(({ nutToFretMm, line }) => [nutToFretMm, line])).toEqual([
    [expect.closeTo(36.3474, 10), 2],
    [expect.closeTo(70.6628, 10), 4],
  ]);
});

test('readFretPositions names a whole column of inches, row by row', () => {
  const { positions, problems } = readFretPositions('fret,nut_to_fret_mm\n1,1.431\n5,6.397\n12,12.75\n', 'neck.csv');
  expect(positions).toEqual([]);
  expect(problems).toHaveLength(3);
  expect(problems[0]).toBe(
    'neck.csv:2, column "nut_to_fret_mm": found "1.431", expected millimetres: most rows imply a scale length of 25.5 millimetres, so these are inches; name the column nut_to_fret_in or convert them',
  );
});

test('readFretPositions names a whole column of millimetres under inches', () => {
  const { positions, problems } = readFretPositions('fret,nut_to_fret_in\n1,36.37\n5,162.56\n12,324\n', 'neck.csv');
  expect(positions).toEqual([]);
  expect(problems[2]).toBe(
    'neck.csv:4, column "nut_to_fret_in": found "324", expected inches: most rows imply a scale length of 648.0 inches, so these are millimetres; name the column nut_to_fret_mm or convert them',
  );
});

test.each([
  ['centimetres', 10, '', 'so these are centimetres; multiply them by 10'],
  ['centimetres beside the scale length', 10, ',648', 'so these are centimetres; multiply them by 10'],
  [
    'inches beside the scale length',
    25.4,
    ',648',
    'so these are inches; name the column nut_to_fret_in or convert them',
  ],
  ['metres', 1000, '', 'so these are in another unit, or not from the nut; convert them'],
])('readFretPositions names a whole column of %s', (_, factor, scale, wanted) => {
  const header = `fret,nut_to_fret_mm${scale && ',scale_mm'}\n`;
  const rows = rowsOf(neck.map((mm) => `${(Number(mm) / factor).toFixed(4)}${scale}`));
  const { positions, problems } = readFretPositions(header + rows, 'neck.csv');
  expect(positions).toEqual([]);
  expect(problems).toHaveLength(12);
  for (const problem of problems) expect(problem).toMatch(new RegExp(`${wanted}$`));
});

test.each([
  ['to the next fret', (mm: number, fret: number) => mm - Number(neck[fret - 1] ?? 0)],
  ['to the saddle', (mm: number) => 648 - mm],
])('readFretPositions says that distances %s are not from the nut', (_, take) => {
  const rows = rowsOf(neck.map((mm, fret) => take(Number(mm), fret).toFixed(2)));
  const { positions, problems } = readFretPositions(`fret,nut_to_fret_mm\n${rows}`, 'neck.csv');
  expect(positions).toEqual([]);
  expect(problems).toHaveLength(12);
  expect(problems[0]).toMatch(
    /^neck\.csv:2, column "nut_to_fret_mm": found "[\d.]+", expected distances from the nut, which grow; these fall from fret to fret, as distances between frets or to the saddle do$/,
  );
});

test.each(['fret,nut_to_fret_mm,nut_to_fret_in', 'fret,nut_to_fret_mm,nut_to_fret_mm'])(
  'readFretPositions does not choose between the columns of %s',
  (header) => {
    expect(readFretPositions(`${header}\n1,36.4,1.5\n`, 'neck.csv')).toEqual({
      positions: [],
      problems: [
        `neck.csv:1: found columns "${header.replaceAll(',', ', ')}", expected one alone for nut_to_fret; leave the others out`,
      ],
    });
  },
);

// The 7th fret of a 648 mm scale in inches: 648 (1 - 2^(-7/12)) / 25.4 = 8.485.
test('readFretPositions names the one cell that is in inches', () => {
  const { positions, problems } = readFretPositions(`fret,nut_to_fret_mm\n${rowsOf(changed(7, '8.485'))}`, 'neck.csv');
  expect(positions).toHaveLength(11);
  expect(problems).toEqual([
    'neck.csv:8, column "nut_to_fret_mm": found "8.485", expected millimetres as in the other rows: this is where the fret stands in inches; write 215.52',
  ]);
});

test('readFretPositions names the one cell that is in millimetres under inches', () => {
  const inches = neck.map((mm, fret) => (fret === 7 ? mm : (Number(mm) / 25.4).toFixed(3)));
  const { problems } = readFretPositions(`fret,nut_to_fret_in\n${rowsOf(inches)}`, 'neck.csv');
  expect(problems).toEqual([
    `neck.csv:8, column "nut_to_fret_in": found "${neck[7]}", expected inches as in the other rows: this is where the fret stands in millimetres; write 8.485`,
  ]);
});

test('readFretPositions refuses the one row that breaks the order, and keeps the others', () => {
  const { positions, problems } = readFretPositions(`fret,nut_to_fret_mm\n${rowsOf(changed(5, '621.5'))}`, 'neck.csv');
  expect(positions.map(({ fret }) => fret)).toEqual([1, 2, 3, 4, 6, 7, 8, 9, 10, 11, 12]);
  expect(problems).toEqual([
    `neck.csv:6, column "nut_to_fret_mm": found "621.5", expected more than ${neck[4]} (fret 4, line 5) and less than ${neck[6]} (fret 6, line 7), as frets come one after the other`,
  ]);
});

test('readFretPositions refuses of two neighbours out of order the one that fits its fret less', () => {
  const { positions, problems } = readFretPositions(`fret,nut_to_fret_mm\n${rowsOf(changed(9, '236'))}`, 'neck.csv');
  expect(positions).toHaveLength(11);
  expect(problems[0]).toContain('neck.csv:10, column "nut_to_fret_mm": found "236"');
});

test('readFretPositions refuses a fret at or beyond the scale length', () => {
  const { problems } = readFretPositions('fret,nut_to_fret_mm,scale_mm\n1,36.4,648\n20,648,648\n22,700,648\n', 'n.csv');
  expect(problems).toEqual([
    'n.csv:3, column "nut_to_fret_mm": found "648", expected less than the scale length of 648 mm',
    'n.csv:4, column "nut_to_fret_mm": found "700", expected less than the scale length of 648 mm',
  ]);
});

// Quarter-comma meantone puts the first fret at 76 cents (a chromatic semitone, from memory): a quarter nearer the nut.
test('readFretPositions takes placements other than equal temperament', () => {
  const cents = [76, 193, 310, 386, 503, 579, 697, 773, 890, 1007, 1083, 1200];
  const { positions, problems } = readFretPositions(
    `fret,nut_to_fret_mm\n${rowsOf(['', ...cents.map((interval) => (600 * (1 - 2 ** (-interval / 1200))).toFixed(1))])}`,
    'lute.csv',
  );
  expect(problems).toEqual([]);
  expect(positions).toHaveLength(12);
});

test('readFretPositions names every cell that is wrong, and keeps rows = positions + problems', () => {
  const { positions, problems } = readFretPositions(
    'string,fret,nut_to_fret_mm,scale_mm\n1,0,0,648\n1,1,sharp,648\n13,2,70.7,648\n1,3,-103,648\n1,4,133.7,25.5\n1,5,163,648\n1,6\n',
    'neck.csv',
  );
  expect(positions).toHaveLength(1);
  expect(problems).toEqual([
    'neck.csv:8: found 2 fields under a header of 4, expected one field for each column of the header',
    'neck.csv:2, column "fret": found "0", expected a whole fret number from 1 to 36',
    'neck.csv:2, column "nut_to_fret_mm": found "0", expected the distance from the nut, a number above 0',
    'neck.csv:3, column "nut_to_fret_mm": found "sharp", expected the distance from the nut, a number above 0',
    'neck.csv:4, column "string": found "13", expected a whole string number from 1, the thinnest, or nothing for all strings',
    'neck.csv:5, column "nut_to_fret_mm": found "-103", expected the distance from the nut, a number above 0',
    'neck.csv:6, column "scale_mm": found "25.5", expected a scale length in millimetres, from 100 to 2500; multiply inches by 25.4',
  ]);
});

test('readFretPositions says which columns it looked for', () => {
  expect(readFretPositions('fret,position\n1,36\n', 'neck.csv').problems).toEqual([
    'neck.csv:1: found columns "fret, position", expected fret and nut_to_fret_mm (or nut_to_fret_in)',
  ]);
  expect(readFretPositions('', 'neck.csv').problems).toHaveLength(1);
});
