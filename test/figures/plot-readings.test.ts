import { expect, test } from 'vitest';
import { riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import { plotReadings } from '../../src/figures/plot-readings.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { all, pathPoints, rowsOf, texts } from './drawing.ts';
import { inventedReadings, inventedTrend, spread } from './invented-trend.ts';

const frets = [1, 5, 9, 12, 14, 17, 20];
const shop = { models: ['Fern'], rises: [3, 2], nut: 0.5, frets };
const figure = plotReadings(inventedTrend(shop), 'Fern');
/** Error at a fret with the 12th exact, by the reading-level model: the saddle gives -nut g(n). */
const twelfthExact = (rise: number, fret: number): number => 0.5 + rise * riseShape(fret) - 0.5 * saddleLeverage(fret);

test('plotReadings draws the curve nut (1 - g(n)) + rise u(n) at every fret', () => {
  const fitted = rowsOf(figure, 'fitted') as { string: number; fret: number; cents: number }[];
  expect(fitted).toHaveLength(2 * 20);
  for (const { string, fret, cents } of fitted) expect(cents).toBeCloseTo(twelfthExact([3, 2][string - 1]!, fret), 12);
});

test('plotReadings draws the curve where its data say, one scale for all strings', () => {
  const fitted = rowsOf(figure, 'fitted') as { string: number; cents: number }[];
  const curves = all(figure, '[aria-label=line] path').map(pathPoints);
  expect(curves).toHaveLength(2);
  const drawn = curves.flatMap((points) => points.map(([, y]) => y));
  const perCent = (drawn[16]! - drawn[11]!) / (fitted[16]!.cents - fitted[11]!.cents);
  expect(perCent).toBeLessThan(0);
  drawn.forEach((y, at) => expect(y - drawn[11]!).toBeCloseTo(perCent * (fitted[at]!.cents - fitted[11]!.cents), 1));
});

test('plotReadings moves noise-free readings onto the curve, wherever the saddle stood', () => {
  const readings = rowsOf(figure, 'reading') as { string: number; fret: number; cents: number }[];
  for (const { string, fret, cents } of readings)
    expect(cents).toBeCloseTo(twelfthExact([3, 2][string - 1]!, fret), 10);
});

test('plotReadings draws a dot for every reading of the model, and no other', () => {
  const trend = inventedTrend({ ...shop, models: ['Fern', 'Moss'] });
  const count = inventedReadings({ ...shop, models: ['Fern', 'Moss'] }).filter(({ model }) => model === 'Fern').length;
  const fern = plotReadings(trend, 'Fern');
  expect(all(fern, '[aria-label=dot] circle')).toHaveLength(count);
  expect(rowsOf(fern, 'reading').reduce((sum, row) => sum + (row.readings as number), 0)).toBe(count);
});

test('plotReadings counts repeats in one dot', () => {
  const again = { instrument: 'Fern-0', model: 'Fern', string: 1, pass: 0 };
  const extra = [
    { ...again, fret: 17, cents: 3 },
    { ...again, fret: 17, cents: 4 },
  ];
  const repeated = plotReadings(inventedTrend({ ...shop, extra }), 'Fern');
  expect(all(repeated, '[aria-label=dot] circle')).toHaveLength(rowsOf(figure, 'reading').length);
  expect(rowsOf(repeated, 'reading').some((row) => row.fret === 17 && row.readings === 3)).toBe(true);
});

// Independent of neckErrors: instruments drawn from the spreads and read by the reading-level model. 20,000 draws put the
// part inside within 0.005 of 0.95 in all but one case in a thousand.
test('plotReadings has 95 % of simulated instruments in its band', () => {
  const normal = normalRandom(3);
  const at17 = rowsOf(figure, 'fitted').find((row) => row.string === 1 && row.fret === 17) as {
    low: number;
    high: number;
  };
  let inside = 0;
  for (let draw = 0; draw < 20_000; draw++) {
    const nut = 0.5 + spread.stringNut * normal();
    const rise = 3 + Math.hypot(spread.instrumentRise, spread.stringRise, Math.sqrt(0.06)) * normal();
    const error = nut * (1 - saddleLeverage(17)) + rise;
    if (error > at17.low && error < at17.high) inside++;
  }
  expect(Math.abs(inside / 20_000 - 0.95)).toBeLessThan(0.005);
});

test('plotReadings keeps its scale under a wild reading, and tells of it', () => {
  const wild = { instrument: 'Fern-0', model: 'Fern', string: 1, fret: 3, pass: 0, cents: 590 };
  const trend = inventedTrend({ ...shop, extra: [wild] });
  const drawn = plotReadings(trend, 'Fern');
  expect(all(drawn, '[aria-label=dot] path')).toHaveLength(1);
  expect(drawn.description).toMatch(/1 dot beyond the frame, .* reads \+\d{3}\.\d cents/);
  const [before, after] = [figure, drawn].map((one) => pathPoints(all(one, '[aria-label=line] path')[0]!));
  expect(after).toEqual(before);
});

test('plotReadings leaves out a string read without its 12th, and says so', () => {
  const alone = { instrument: 'Fern-9', model: 'Fern', string: 2, fret: 17, pass: 0, cents: 4 };
  const drawn = plotReadings(inventedTrend({ ...shop, extra: [alone] }), 'Fern');
  expect(drawn.data).toHaveLength(figure.data.length);
  expect(drawn.description).toContain('1 string read without a 12th not shown.');
});

test('plotReadings draws one string in several where there are too many to see, and says so', () => {
  // The last block read, which no step of 3 would reach by itself.
  const wild = { instrument: 'Fern-599', model: 'Fern', string: 2, fret: 3, pass: 0, cents: 590 };
  const trend = inventedTrend({ ...shop, instruments: 600, extra: [wild] });
  const drawn = plotReadings(trend, 'Fern');
  const dots = rowsOf(drawn, 'reading').length;
  expect(dots).toBeLessThanOrEqual(3001);
  expect(drawn.description).toMatch(/Of every 3 strings read, one is drawn, and all that lies beyond the frame\./);
  expect(all(drawn, '[aria-label=dot] path')).toHaveLength(1);
});

test('plotReadings tells the 17th of each string in title, panels and description', () => {
  // 0.5 (1 - g(17)) + 3 = 2.67 and 1.67 by hand, with g(17) = 1.66968
  expect(figure.title).toBe('Readings of Fern, 12th exact: +2.7 cents at the 17th on string 1');
  expect(figure.description).toContain('string 1 +2.7');
  expect(figure.description).toContain('string 2 +1.7');
  expect(texts(figure)).toContain('string 2: +1.7 at the 17th');
  expect(texts(figure)).toContain('↑ cents, sharp is positive');
  expect(texts(figure)).toContain('fret →');
});

test('plotReadings names the models it has when asked for another', () => {
  expect(() => plotReadings(inventedTrend(shop), 'Bog')).toThrow(
    new RangeError('Cannot plot readings of "Bog"; expected one of Fern'),
  );
});
