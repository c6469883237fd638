import { table } from 'arquero';
import { expect, test } from 'vitest';
import { kappa, saddleLeverage } from '../../src/acoustics/frets.ts';
import { type BlockSums, sumReadings } from '../../src/sources/block-sums.ts';
import { uniformRandom } from '../../src/statistics/random.ts';
import { fitTrend, type Trend } from '../../src/trend/fit-trend.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const small: ShopPlan = { ...usualShop, models: 3, instrumentsPerModel: 8, strings: 4 };
const risesOf = ({ models }: Trend): number[] =>
  [...models]
    .sort((a, b) => a.model.localeCompare(b.model))
    .flatMap(({ cells }) => cells.map(({ rise }) => rise.estimate));

interface Row {
  readonly instrument: string;
  readonly model: string;
  readonly string: number;
  readonly pass: number;
  readonly fret: number;
  readonly cents: number;
  readonly technician: string;
}

/** The sums as readings again, one row a cell. */
function readingsOf(sums: BlockSums): Row[] {
  return Array.from(sums.blockString).flatMap((string, block) => {
    const instrument = sums.blockInstrument[block]!;
    return Array.from({ length: sums.blockStart[block + 1]! - sums.blockStart[block]! }, (_, at): Row => {
      const cell = sums.blockStart[block]! + at;
      return {
        instrument: sums.instruments[instrument]!,
        model: sums.models[sums.modelOfInstrument[instrument]!]!,
        string,
        pass: sums.blockPass[block]!,
        fret: sums.cellFret[cell]!,
        cents: sums.cellMean[cell]!,
        technician: sums.technicians[sums.cellTechnician[cell]!]!,
      };
    });
  });
}

const names = ['instrument', 'model', 'string', 'pass', 'fret', 'cents', 'technician'] as const;
const sumsOf = (rows: readonly Row[]): BlockSums =>
  sumReadings(table(Object.fromEntries(names.map((name) => [name, rows.map((row) => row[name])]))));
const fitRows = (rows: readonly Row[]): Trend => fitTrend(sumsOf(rows));

// Seeded simulation from known truth: 6 models by 6 strings; a standardised error has mean square 1.
test('fitTrend recovers the rises, nut offsets and spreads a shop was made from', () => {
  const shop = simulateShop(3, usualShop);
  const trend = fitTrend(shop.sums);
  const z = trend.models.flatMap(({ model, cells }) =>
    cells.map(({ string, rise }) => {
      const truth = shop.rise[shop.sums.models.indexOf(model)]![string - 1]!;
      return (rise.estimate - truth) / rise.standardError;
    }),
  );
  expect(Math.max(...z.map(Math.abs))).toBeLessThan(4);
  expect(Math.sqrt(z.reduce((sum, one) => sum + one * one, 0) / z.length)).toBeLessThan(1.6);
  for (const { model, nut } of trend.models)
    expect(Math.abs(nut.estimate - shop.nut[shop.sums.models.indexOf(model)]!)).toBeLessThan(4 * nut.standardError);
  // 72 instruments of 6 strings: a standard deviation is known to a tenth or so.
  expect(Math.abs(trend.spread.reading / usualShop.reading - 1)).toBeLessThan(0.1);
  expect(Math.abs(trend.spread.stringRise / usualShop.stringRise - 1)).toBeLessThan(0.25);
  expect(Math.abs(trend.spread.instrumentRise / usualShop.instrumentRise - 1)).toBeLessThan(0.4);
  expect(Math.abs(trend.spread.stringNut / usualShop.stringNut - 1)).toBeLessThan(0.25);
});

test('fitTrend does not change when every saddle is moved', () => {
  const rows = readingsOf(simulateShop(5, small).sums);
  const moved = rows.map((row) => ({
    ...row,
    cents: row.cents + (row.string - 2.5 + row.pass) * saddleLeverage(row.fret),
  }));
  const [before, after] = [risesOf(fitRows(rows)), risesOf(fitRows(moved))];
  after.forEach((rise, at) => expect(rise).toBeCloseTo(before[at]!, 6));
});

test('fitTrend does not depend on the order of the readings or the names of the instruments', () => {
  const rows = readingsOf(simulateShop(6, small).sums);
  const random = uniformRandom(1);
  const order = new Map(rows.map((row) => [row, random()]));
  const shuffled = rows.toSorted((a, b) => order.get(a)! - order.get(b)!);
  const renamed = shuffled.map((row) => ({ ...row, instrument: `other ${row.instrument}` }));
  const [before, after] = [risesOf(fitRows(rows)), risesOf(fitRows(renamed))];
  after.forEach((rise, at) => expect(rise).toBeCloseTo(before[at]!, 5));
});

// An identity: with the 12th and the 17th alone, adding a to every reading adds (1 - kappa) a to every t.
test('fitTrend at the 12th and 17th alone takes a nut offset of +0.5 for a rise of -0.33, and says so', () => {
  const rows = readingsOf(simulateShop(7, { ...small, manyFretsEvery: 0 }).sums);
  const trend = fitRows(rows.map((row) => ({ ...row, cents: row.cents + 0.5 })));
  const before = risesOf(fitRows(rows));
  risesOf(trend).forEach((rise, at) => expect(rise - before[at]!).toBeCloseTo(0.5 * (1 - kappa), 5));
  expect(trend.models.every(({ nut }) => nut.estimate === 0)).toBe(true);
  expect(trend.notes[0]).toBe(
    "With the 12th and the 17th alone a nut offset cannot be told from a rise: every rise contains -0.67 times the nut's offset (a nut that reads +0.5 cents lowers a rise by 0.33). Read a few instruments at low frets too.",
  );
});

test('fitTrend tells a nut offset from the rises where some instruments are read at many frets', () => {
  const rows = readingsOf(simulateShop(7, small).sums);
  const [before, after] = [fitRows(rows), fitRows(rows.map((row) => ({ ...row, cents: row.cents + 0.5 })))];
  risesOf(after).forEach((rise, at) => expect(rise).toBeCloseTo(risesOf(before)[at]!, 5));
  after.models.forEach(({ nut }, at) => expect(nut.estimate - before.models[at]!.nut.estimate).toBeCloseTo(0.5, 5));
});

test('fitTrend lists a wild string and lets it count for little', () => {
  const rows = readingsOf(simulateShop(8, small).sums);
  const [first] = rows;
  const wild = rows.map((row) =>
    row.instrument === first!.instrument && row.string === 1 && row.fret > 12 ? { ...row, cents: row.cents + 25 } : row,
  );
  const trend = fitRows(wild);
  const listed = trend.downWeighted.find(({ instrument, string }) => instrument === first!.instrument && string === 1);
  expect(listed!.weight).toBeLessThan(0.1);
  expect(trend.faults).toContainEqual(
    expect.objectContaining({ instrument: first!.instrument, kind: 'one-string', strings: [1] }),
  );
  const cell = (of: Trend): number => of.models.find(({ model }) => model === first!.model)!.cells[0]!.rise.estimate;
  // The mean of 8 instruments would move by 25 / 8 = 3.1 cents.
  expect(Math.abs(cell(trend) - cell(fitRows(rows)))).toBeLessThan(0.6);
});

test('fitTrend finds what a covariate adds to the rise', () => {
  const { sums } = simulateShop(9, { ...usualShop, models: 2, instrumentsPerModel: 20, strings: 4 });
  const action = Float64Array.from(sums.blockInstrument, (instrument) => 1.5 + 0.1 * (instrument % 7));
  const slope = 2;
  const cellMean = sums.cellMean.slice();
  for (let block = 0; block < action.length; block++)
    for (let cell = sums.blockStart[block]!; cell < sums.blockStart[block + 1]!; cell++)
      cellMean[cell]! += (slope * action[block]! * Math.max(0, sums.cellFret[cell]! - 12)) / 5;
  const trend = fitTrend(
    { ...sums, cellMean, blockCovariates: { actionMm: action } },
    { covariates: ['actionMm', 'pickupMm'] },
  );
  const [found] = trend.covariates;
  expect(found!.name).toBe('actionMm');
  expect(Math.abs(found!.perUnit.estimate - slope)).toBeLessThan(3 * found!.perUnit.standardError);
  expect(found!.perUnit.standardError).toBeLessThan(1);
  expect(trend.notes).toContain('Nothing can be said of pickupMm: the readings do not have it, or it never differs.');
});

test('fitTrend says what it cannot tell apart', () => {
  const once = fitTrend(simulateShop(10, { ...small, manyFretsEvery: 0, passes: 1, technicians: 1 }).sums);
  expect(once.hands).toEqual([]);
  expect(once.notes.some((note) => note.startsWith('No string was read more than once'))).toBe(true);
});

test('fitTrend refuses two instruments and readings that never differ', () => {
  const rows = readingsOf(simulateShop(11, small).sums);
  expect(() => fitRows(rows.filter(({ instrument }) => instrument === 'I1' || instrument === 'I2'))).toThrow(
    /^Cannot fit a trend: .*expected at least 3/,
  );
  expect(() => fitRows(rows.map((row) => ({ ...row, cents: 2 })))).toThrow(
    /^Cannot fit a trend: .*expected readings that differ/,
  );
});
