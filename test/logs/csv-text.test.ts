import { parse } from 'csv-parse/sync';
import { expect, test } from 'vitest';
import { csvText } from '../../src/logs/csv-text.ts';

test('csvText is read back by csv-parse cell for cell', () => {
  const rows = [
    ['a "quoted" word', 'two\r\nlines', 'a,b', ''],
    [' spaces ', 'ü', '1.5', 'x'],
  ];
  expect(parse(csvText(['p', 'q', 'r', 's'], rows))).toEqual([['p', 'q', 'r', 's'], ...rows]);
});

// OWASP, CSV injection: cells that begin with = + - @ tab or CR are run as formulas (from memory).
test.each(['=1+1', '+A1', '-2+3', '@SUM(A1)', '\t=1', '\r=1'])('csvText disarms a cell that begins as %j', (cell) => {
  const records: string[][] = parse(csvText(['c'], [[cell]]));
  expect(records[1]).toEqual([`'${cell}`]);
});

test('csvText leaves numbers alone, also negative ones written as text', () => {
  expect(csvText(['a', 'b', 'c', 'd'], [[-1.5, '-1.5', '+3', null]])).toBe('a,b,c,d\r\n-1.5,-1.5,+3,\r\n');
});
