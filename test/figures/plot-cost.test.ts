import { expect, test } from 'vitest';
import { plotCost } from '../../src/figures/plot-cost.ts';
import { costCurve } from '../../src/policy/cost-curve.ts';
import { all, pathPoints, placed, rowsOf, texts } from './drawing.ts';
import { inventedStandard, inventedTrend } from './invented-trend.ts';

const { standard, from } = inventedStandard(inventedTrend({ models: ['Fern'], rises: [3, 2, 4] }));
const curves = standard.entries.map((entry) => costCurve(entry, from));
const figure = plotCost(curves.slice(0, 1));

test("costCurve holds the standard's own costs of the choice and of every rule of thumb", () => {
  curves.forEach(({ chosen, rules }, at) => {
    expect(chosen).toEqual({ share: standard.entries[at]!.share, cost: standard.entries[at]!.cost });
    for (const { rule, cost } of rules) expect(cost).toBe(standard.entries[at]!.rules[rule]);
  });
});

test('plotCost bars on the axis the shares as good to the ear, in place', () => {
  const { fineLow, fineHigh } = standard.entries[0]!;
  const [curve] = all(figure, '[aria-label=line] path').map(pathPoints);
  const [left, right] = [curve![0]![0], curve!.at(-1)![0]];
  const bar = all(figure, '[aria-label=rule][stroke-width="5"] line')[0]!;
  const ends = ['x1', 'x2'].map((name) => (Number(bar.getAttribute(name)) - left) / (right - left));
  expect(ends[0]).toBeCloseTo(fineLow, 2);
  expect(ends[1]).toBeCloseTo(fineHigh, 2);
  expect(fineHigh).toBeGreaterThan(fineLow);
});

test('costCurve is convex and nowhere below the choice on a saddle of its own', () => {
  for (const { points, chosen } of curves) {
    const costs = points.map(({ cost }) => cost);
    expect(Math.min(...costs)).toBeGreaterThan(chosen.cost - 1e-6);
    for (let at = 1; at + 1 < costs.length; at++)
      expect(costs[at - 1]! + costs[at + 1]! - 2 * costs[at]!).toBeGreaterThan(-1e-12);
    expect([points[0]!.share, points.at(-1)!.share]).toEqual([0, 1]);
  }
});

test('costCurve refuses an entry that the trend does not hold', () => {
  expect(() => costCurve({ ...standard.entries[0]!, string: 9 }, from)).toThrow(
    'Cannot draw costs of string 9 of "Fern": the trend does not hold it; expected the trend that the standard was made from',
  );
});

test('plotCost draws the curve in proportion to its data, from a floor of 0', () => {
  const [curve] = all(figure, '[aria-label=line] path').map(pathPoints);
  const { points, chosen } = curves[0]!;
  expect(curve).toHaveLength(points.length);
  const floor = Number(
    all(figure, '[aria-label=rule] line')
      .find((line) => line.getAttribute('y1') === line.getAttribute('y2'))!
      .getAttribute('y1'),
  );
  const perCent = (floor - curve![0]![1]) / points[0]!.cost;
  curve!.forEach(([, y], at) => expect(floor - y).toBeCloseTo(perCent * points[at]!.cost, 1));
  const circle = all(figure, '[aria-label=dot] circle')[0]!;
  expect(floor - Number(circle.getAttribute('cy'))).toBeCloseTo(perCent * chosen.cost, 1);
});

test('plotCost marks the four rules of thumb on the curve, each with a shape of its own', () => {
  const marks = all(figure, '[aria-label=dot] path');
  expect(new Set(marks.map((mark) => mark.getAttribute('d'))).size).toBe(4);
  const [left, right] = [0, 1].map((share) => curves[0]!.rules.find((rule) => rule.share === share)!);
  const [curve] = all(figure, '[aria-label=line] path').map(pathPoints);
  expect(left!.rule).toBe('12th exact');
  expect(right!.rule).toBe('17th exact');
  expect(placed(marks[0]!)[0]).toBeCloseTo(curve![0]![0], 1);
  expect(placed(marks[1]!)[0]).toBeCloseTo(curve!.at(-1)![0], 1);
});

test('plotCost tells what the cost is, its numbers and its unit', () => {
  const { chosen, rules } = curves[0]!;
  const more = rules[0]!.cost - chosen.cost;
  expect(figure.title).toContain(`12th exact costs ${more.toFixed(2)} cents more than the standard`);
  expect(figure.description).toContain(
    `Fern string 1: chosen ${chosen.share.toFixed(2)} costs ${chosen.cost.toFixed(2)}`,
  );
  expect(texts(figure)).toContain('↑ expected cost in cents');
  expect(texts(figure).join(' ')).toContain('root mean square error');
  expect(rowsOf(figure, 'curve')).toHaveLength(51);
});

test('plotCost draws a panel for every curve, all with one scale', () => {
  const drawn = plotCost(curves);
  expect(all(drawn, '[aria-label=line] path')).toHaveLength(3);
  for (const string of [1, 2, 3]) expect(texts(drawn)).toContain(`string ${string}`);
  expect(() => plotCost([])).toThrow('Cannot plot no cost curve');
});
