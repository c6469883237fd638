import { expect, test } from 'vitest';
import { plotCauses } from '../../src/figures/plot-causes.ts';
import type { CausePart, Decomposition } from '../../src/trend/decompose.ts';
import { all, texts } from './drawing.ts';

const estimate = (value: number, reach: number) => ({
  estimate: value,
  standardError: reach / 2,
  df: Infinity,
  low: value - reach,
  high: value + reach,
});
const part = (cause: string, rise: number, inflation: number, isTaken = false): CausePart => ({
  cause,
  unit: 'times as predicted',
  size: isTaken ? null : estimate(1, 0.2),
  rise: estimate(rise, isTaken ? 0 : 0.5),
  byString: [],
  inflation,
  besideSaddle: 0.1,
});
const decomposition: Decomposition = {
  of: 'Fern 6',
  instruments: 8,
  strings: [1, 2],
  total: estimate(1.5, 0.6),
  parts: [part('nut', -0.5, 2), part('stretch', -3, 25), part('stiffness', 0.1, 1, true), part('rest', 4.9, 3)],
  hands: [],
  together: [],
  condition: 6,
  left: [],
  notes: ['The rise is +1.5 cents.'],
};
const figure = plotCauses([decomposition]);

test('plotCauses says the whole rise and its largest part', () => {
  expect(figure.title).toBe('Rise of Fern 6, +1.5 cents: most of it rest, +4.9');
  expect(figure.description).toBe('Fern 6 (8 instruments): The rise is +1.5 cents.');
});

test('plotCauses tells by shape what is told apart, held apart badly, taken as predicted, and the sum', () => {
  expect(all(figure, '[aria-label=dot]').map((marks) => marks.children.length)).toEqual([2, 1, 1, 1]);
  expect(figure.data.map(({ cause, known }) => [cause, known])).toEqual([
    ['nut', 'told apart'],
    ['stretch', 'held apart badly'],
    ['stiffness', 'as predicted'],
    ['rest', 'told apart'],
    ['whole rise', 'sum'],
  ]);
  for (const word of ['−0.5', '−3.0', '+0.1', '+4.9', '+1.5', 'Fern 6, 8 instruments'])
    expect(texts(figure)).toContain(word);
});

test('plotCauses puts a part where its number is', () => {
  const zero = Number(all(figure, '[aria-label=rule] line')[0]!.getAttribute('x1'));
  const [nut, rest] = [...all(figure, '[aria-label=dot]')[0]!.querySelectorAll('circle')].map(
    (circle) => Number(circle.getAttribute('cx')) - zero,
  );
  expect(rest! / nut!).toBeCloseTo(4.9 / -0.5, 1);
});

test('plotCauses draws a panel a decomposition, and refuses none', () => {
  const two = plotCauses([decomposition, { ...decomposition, of: 'Moss 6' }]);
  expect(two.data).toHaveLength(10);
  expect(texts(two)).toContain('Moss 6, 8 instruments');
  expect(() => plotCauses([])).toThrow('Cannot plot the causes of no rise; expected at least one decomposition');
});
