import { table } from 'arquero';
import { expect, test } from 'vitest';
import { meanAt, sumReadings } from '../../src/sources/block-sums.ts';

const readings = {
  instrument: ['b', 'a', 'a', 'a', 'a', 'b'],
  model: ['M', 'N', 'N', 'M', 'N', 'M'],
  string: [1, 2, 1, 1, 1, 1],
  fret: [12, 12, 17, 12, 12, 17],
  cents: [1, 2, 5, 1, 2, 3],
  pass: [0, 0, 0, 0, 0, 1],
};

test('sumReadings sorts cells by instrument, string, pass and fret, and counts every reading', () => {
  const sums = sumReadings(table(readings));
  expect(sums.instruments).toEqual(['b', 'a']);
  expect([...sums.blockInstrument]).toEqual([0, 0, 1, 1]);
  expect([...sums.blockPass]).toEqual([0, 1, 0, 0]);
  expect([...sums.blockString]).toEqual([1, 1, 1, 2]);
  expect([...sums.cellFret]).toEqual([12, 17, 12, 17, 12]);
  expect([...sums.cellCount]).toEqual([1, 1, 2, 1, 1]);
  expect(sums.cellMean[2]).toBe(1.5);
  expect(sums.cellSquares[2]).toBeCloseTo(0.5, 12);
  expect(meanAt(sums, 2, 17)).toBe(5);
  expect(meanAt(sums, 3, 17)).toBeUndefined();
});

test('sumReadings puts an instrument under the model that most of its readings name', () => {
  const sums = sumReadings(table(readings));
  expect(sums.models[sums.modelOfInstrument[1]!]).toBe('N');
});

test('sumReadings names the column it lacks', () => {
  expect(() => sumReadings(table({ instrument: ['a'], model: ['M'] }))).toThrow(
    'Cannot sum readings without a column "string"; found instrument, model',
  );
});

test('sumReadings keeps passes and technicians apart, whatever the number of either', () => {
  const each = Array.from({ length: 300 }, (_, at) => at);
  const sums = sumReadings(
    table({
      instrument: [...each.map(() => 'a'), 'a', 'a'],
      model: [...each.map(() => 'M'), 'M', 'M'],
      string: [...each.map(() => 1), 1, 2],
      fret: [...each.map(() => 12), 12, 12],
      cents: [...each, 1, 2],
      pass: [...each.map(() => 0), 4096, 0],
      technician: [...each.map(String), '0', '0'],
    }),
  );
  expect(sums.technicians).toHaveLength(300);
  expect(sums.cellCount).toHaveLength(302);
  expect([...sums.blockPass]).toEqual([0, 4096, 0]);
});
