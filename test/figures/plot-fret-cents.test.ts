import { expect, test } from 'vitest';
import { plotFretCents } from '../../src/figures/plot-fret-cents.ts';
import { all, texts } from './drawing.ts';

// RMS of 3 and -4 is sqrt((9 + 16) / 2) = 3.54; of 1 and 1 it is 1.
const curves = [
  {
    name: 'one',
    notes: [
      { fret: 1, cents: 3 },
      { fret: 12, cents: -4 },
    ],
  },
  {
    name: 'other',
    notes: [
      { fret: 1, cents: 1 },
      { fret: 12, cents: 1 },
    ],
  },
];
const figure = plotFretCents(curves, { of: 'Fern', audibleCents: 2 });

test('plotFretCents tells the least and the most RMS in the title, and every number in the description', () => {
  expect(figure.title).toBe('Fern: from RMS 1.0 cents (other) to 3.5 (one)');
  expect(figure.description).toBe(
    'Cents by fret of 2 curves for Fern. one: RMS 3.54, largest −4.0 at fret 12; fret 1 +3.0, fret 12 −4.0. other: RMS 1.00, largest +1.0 at fret 1; fret 1 +1.0, fret 12 +1.0.',
  );
  expect(plotFretCents(curves.slice(0, 1), { of: 'Fern', audibleCents: 2 }).title).toBe('Fern: one, RMS 3.5 cents');
});

test('plotFretCents draws a panel a curve, all on one scale', () => {
  const y = all(figure, '[aria-label=dot] circle').map((circle) => Number(circle.getAttribute('cy')));
  expect(y).toHaveLength(4);
  // 7 cents apart in one panel, and 2 cents from the first dot of one to those of the other.
  expect((y[2]! - y[0]!) / (y[1]! - y[0]!)).toBeCloseTo(2 / 7, 2);
  expect(y[3]).toBe(y[2]);
  expect(texts(figure)).toEqual(expect.arrayContaining(['one: RMS 3.5', 'other: RMS 1.0', 'fret →']));
});

test('plotFretCents exports every note', () => {
  expect(figure.data).toEqual([
    { of: 'Fern', name: 'one', fret: 1, cents: 3 },
    { of: 'Fern', name: 'one', fret: 12, cents: -4 },
    { of: 'Fern', name: 'other', fret: 1, cents: 1 },
    { of: 'Fern', name: 'other', fret: 12, cents: 1 },
  ]);
});

test('plotFretCents refuses to draw nothing', () => {
  const draw = (drawn: typeof curves) => (): unknown => plotFretCents(drawn, { of: 'Fern', audibleCents: 2 });
  expect(draw([])).toThrow(new RangeError('Cannot plot no curve; expected at least one'));
  expect(draw([{ name: 'one', notes: [] }])).toThrow(
    new RangeError('Cannot plot the curve "one" without notes; expected at least one'),
  );
});
