import { expect, test } from 'vitest';
import { plotRise } from '../../src/figures/plot-rise.ts';
import { all, placed, rowsOf, texts } from './drawing.ts';
import { inventedTrend } from './invented-trend.ts';

const trend = inventedTrend({ models: ['Fern', 'Moss'], rises: [3, -1.2] });
const figure = plotRise(trend);

test('plotRise draws pooled and raw of every model and string', () => {
  expect(rowsOf(figure, 'pooled')).toHaveLength(4);
  expect(rowsOf(figure, 'raw')).toHaveLength(4);
  expect(figure.data[0]).toEqual({
    model: 'Fern',
    string: 1,
    kind: 'pooled',
    estimate: 3,
    low: 2.5,
    high: 3.5,
    instruments: 3,
  });
  expect(all(figure, '[aria-label=dot] circle')).toHaveLength(4);
  expect(all(figure, '[aria-label=dot] path')).toHaveLength(4);
});

test('plotRise places dots in proportion to the rise, the same in every panel', () => {
  const circles = all(figure, '[aria-label=dot] circle').map((circle) => Number(circle.getAttribute('cx')));
  expect(circles[2]! - circles[3]!).toBeCloseTo(circles[0]! - circles[1]!, 1);
  // Raw stands 0.2 cents to the right of pooled; pooled rises are 4.2 cents apart.
  const diamond = placed(all(figure, '[aria-label=dot] path')[0]!)[0];
  expect((diamond - circles[0]!) / (circles[0]! - circles[1]!)).toBeCloseTo(0.2 / 4.2, 2);
});

test('plotRise tells extremes in the title and every number in the description', () => {
  expect(figure.title).toBe('Rise toward the 17th fret: −1.2 cents (Fern string 2) to +3.0 (Fern string 1)');
  expect(figure.description).toContain(
    'Fern (3 instruments): string 1 +3.0 (+2.5 to +3.5), raw +3.2; string 2 −1.2 (−1.7 to −0.7), raw −1.0.',
  );
  expect(texts(figure)).toEqual(expect.arrayContaining(['rise in cents, sharp is positive →', '+3.0', '−1.2']));
});

test('plotRise cuts a raw interval far longer than the others with an arrow, and keeps it in the data', () => {
  const [fern, moss] = trend.models;
  const raw = { estimate: 3, standardError: 8, df: 1, low: -98, high: 104 };
  const wide = { ...trend, models: [fern!, { ...moss!, cells: [{ ...moss!.cells[0]!, raw }, moss!.cells[1]!] }] };
  const drawn = plotRise(wide);
  expect(all(drawn, '[aria-label=dot] path')).toHaveLength(4 + 2);
  expect(rowsOf(drawn, 'raw')[2]).toMatchObject({ low: -98, high: 104 });
  const reach = (one: typeof figure): number => {
    const [first, second] = all(one, '[aria-label=dot] circle').map((circle) => Number(circle.getAttribute('cx')));
    return first! - second!;
  };
  expect(reach(drawn)).toBeGreaterThan(reach(figure) / 1.5);
});

test('plotRise leaves raw out where there is none', () => {
  const bare = trend.models.map((model) => ({ ...model, cells: model.cells.map((cell) => ({ ...cell, raw: null })) }));
  const drawn = plotRise({ ...trend, models: bare });
  expect(rowsOf(drawn, 'raw')).toHaveLength(0);
  expect(drawn.description).not.toContain('raw +');
});

test('plotRise refuses a trend without models', () => {
  expect(() => plotRise({ ...trend, models: [] })).toThrow('Cannot plot the rise of no model');
});
