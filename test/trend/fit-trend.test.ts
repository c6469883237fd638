import { table } from 'arquero';
import { expect, test } from 'vitest';
import { kappa, saddleLeverage } from '../../src/acoustics/frets.ts';
import { type BlockSums, sumReadings } from '../../src/sources/block-sums.ts';
import { fitMixed } from '../../src/statistics/mixed/fit-mixed.ts';
import { normalRandom, uniformRandom } from '../../src/statistics/random.ts';
import { riseCombination } from '../../src/trend/cell-effects.ts';
import { projectSaddle } from '../../src/trend/contrast-rows.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import type { Trend } from '../../src/trend/trend.ts';
import { equalWeights } from '../../src/trend/robust-weights.ts';
import { type ShopPlan, simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { identify, trendModel } from '../../src/trend/trend-model.ts';

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

/** One string of so many instruments a model, read at the 12th and 17th: t = 3 + model + instrument, in cents. */
function oneWay(models: number, each: number): { rows: Row[]; t: number[][] } {
  const normal = normalRandom(20);
  const t = Array.from({ length: models }, () => {
    const model = 3 + 1.5 * normal();
    return Array.from({ length: each }, () => model + 1.2 * normal());
  });
  const rows = t.flatMap((own, model) =>
    own.flatMap((rise, at) => {
      const cents12 = normal();
      const common = { instrument: `${model}-${at}`, model: `M${model}`, string: 1, pass: 0, technician: '' };
      return [
        { ...common, fret: 12, cents: cents12 },
        { ...common, fret: 17, cents: rise + kappa * cents12 },
      ];
    }),
  );
  return { rows, t };
}

// Balanced one-way layout: with MSB > MSW, REML gives the analysis-of-variance estimates, sigma^2 = MSW and
// sigma_model^2 = (MSB - MSW) / k, and the predicted mean of a group is drawn to the grand mean by
// sigma_model^2 / (sigma_model^2 + sigma^2 / k). Searle, Casella & McCulloch, Variance Components (1992), chapters 3 and 7.
test('trendModel at equal weights gives the analysis-of-variance and shrinkage estimates of a balanced one-way layout', () => {
  const [a, k] = [5, 8];
  const { rows, t } = oneWay(a, k);
  const mean = (values: readonly number[]): number => values.reduce((sum, x) => sum + x, 0) / values.length;
  const means = t.map(mean);
  const grand = mean(means);
  const between = (k * means.reduce((sum, x) => sum + (x - grand) ** 2, 0)) / (a - 1);
  const within = t.flatMap((own, m) => own.map((x) => (x - means[m]!) ** 2)).reduce((x, y) => x + y) / (a * (k - 1));
  expect(between).toBeGreaterThan(within);
  const modelVariance = (between - within) / k;
  const pooled = means.map((x) => grand + (modelVariance / (modelVariance + within / k)) * (x - grand));

  const sums = sumsOf(rows);
  const parts = { identified: identify(sums), covariates: [] };
  const { columns, description } = trendModel(sums, projectSaddle(sums), { ...parts, root: equalWeights(sums).root });
  const fit = fitMixed(columns, description);
  // A row is t over sqrt(1 + kappa^2).
  expect(fit.sigma * Math.hypot(1, kappa)).toBeCloseTo(Math.sqrt(within), 5);
  expect(fit.random[0]!.standardDeviations[0]!).toBeCloseTo(Math.sqrt(modelVariance), 5);
  const { estimates } = fit.combine(means.map((_, m) => riseCombination(m, 1, parts)));
  estimates.forEach(({ estimate }, m) => expect(estimate).toBeCloseTo(pooled[m]!, 5));
  // The robust fit weighs clean readings a little unequally: it stays well inside the standard error of a model's mean.
  const robust = fitRows(rows).models.map(({ cells }) => cells[0]!.rise.estimate);
  robust.forEach((rise, m) => expect(Math.abs(rise - pooled[m]!)).toBeLessThan(0.5 * Math.sqrt(within / k)));
});

const twelfthsAlone = (rows: readonly Row[]): Row[] => rows.filter(({ fret }) => fret === 12 || fret === 17);

test.each<[string, ShopPlan, (rows: readonly Row[]) => readonly Row[], string]>([
  [
    'technicians who share no model',
    { ...small, technicians: 1 },
    (rows) => rows.map((row) => ({ ...row, technician: `of ${row.model}` })),
    "The technicians' hands are not told apart: each would need at least 3 instruments, and models that others read too. Their differences are part of the rises of the models they read and of the spread between instruments.",
  ],
  [
    'one instrument a model',
    { ...small, models: 9, instrumentsPerModel: 1 },
    twelfthsAlone,
    'No model has two instruments, so models cannot be told from single instruments: every model gets the rise of the whole shop. Read a second instrument of some models.',
  ],
  [
    'a model read at low frets alone',
    { ...small, models: 2, strings: 2, manyFretsEvery: 1 },
    (rows) => rows.filter(({ model, fret }) => model !== 'Model 2' || fret <= 12),
    'Nothing is said of Model 2/1, Model 2/2 (model/string): no instrument was read there at two frets or more, one of them above the 12th.',
  ],
  [
    'three frets once',
    { ...small, passes: 1, manyFretsEvery: 1 },
    (rows) => rows.filter(({ fret }) => fret === 5 || fret === 12 || fret === 17),
    'Strings were read too seldom to tell the nut offsets of single strings from reading error; both are taken as reading error.',
  ],
  [
    'a model of few instruments',
    { ...small, models: 1, instrumentsPerModel: 4 },
    twelfthsAlone,
    'Few instruments, so the intervals are wide: Model 1 (4).',
  ],
  [
    'names in two spellings',
    small,
    (rows) => rows.map((row) => (['I1', 'I4'].includes(row.instrument) ? { ...row, model: 'MODEL 1' } : row)),
    'Names that differ only in capitals or spaces count as different: "MODEL 1" and "Model 1". Where they mean the same, spell them alike.',
  ],
  [
    'readings that were computed',
    { ...small, reading: 0, instrumentRise: 0, stringRise: 0, stringNut: 0, hand: 0 },
    (rows) => rows,
    'The readings follow the model to within 0.001 cents, closer than any tuner reads: check that they were measured, not computed. Nothing is weighed down, and the intervals say nothing.',
  ],
])('fitTrend says what it makes of %s', (_name, plan, change, sentence) => {
  const trend = fitRows(change(readingsOf(simulateShop(12, plan).sums)));
  expect(trend.notes).toContain(sentence);
  for (const { cells } of trend.models)
    for (const { rise } of cells) expect([rise.estimate, rise.standardError].every(Number.isFinite)).toBe(true);
});

test('fitTrend tells no rise from frets up to the 12th', () => {
  const rows = readingsOf(simulateShop(13, { ...small, manyFretsEvery: 1 }).sums).filter(({ fret }) => fret <= 12);
  expect(() => fitRows(rows)).toThrow(
    'Cannot fit a trend: no instrument has a string read at two frets on one pass, one of them above the 12th;',
  );
});

// Seeded simulation: a scatter of 0.002 cents can be told from none by no reading, so the two fits must say the same.
test('readings that follow the model exactly are fitted as readings that all but do, and said to be computed', () => {
  const [exact, nearly] = [0, 0.002].map((reading) => fitTrend(simulateShop(3, { ...usualShop, reading }).sums));
  const rises = (trend: typeof exact): number[] =>
    trend!.models.flatMap(({ cells }) => cells.map(({ rise }) => rise.estimate));
  const other = rises(nearly);
  rises(exact).forEach((rise, at) => expect(Math.abs(rise - other[at]!)).toBeLessThan(0.15));
  expect(exact!.notes.join(' ')).toContain('check that they were measured, not computed');
});
