import { expect, test } from 'vitest';
import { plotGroups } from '../../src/figures/plot-groups.ts';
import type { GroupComparison, GroupContrast, GroupVerdict } from '../../src/trend/compare-groups.ts';
import { all, texts } from './drawing.ts';

function contrast(one: string, other: string, difference: number, verdict: GroupVerdict): GroupContrast {
  const of = (reach: number) => ({ low: difference - reach, high: difference + reach });
  return {
    quantity: 'rise',
    one,
    other,
    strings: [1, 2],
    difference: { estimate: difference, standardError: 0.5, df: 20, ...of(1) },
    p: 0.01,
    adjustedP: 0.02,
    simultaneousLow: difference - 1.2,
    simultaneousHigh: difference + 1.2,
    standardised: { estimate: difference, ...of(1) },
    equivalence: { p: 0.01, adjustedP: 0.01, ...of(0.8) },
    verdict,
    sentence: `${one} against ${other}: ${verdict}.`,
  };
}
const group = (name: string) => ({
  name,
  models: [name],
  instruments: 8,
  strings: [1, 2],
  rise: { estimate: 2, standardError: 0.3, df: 20, low: 1.4, high: 2.6 },
});
const comparison: GroupComparison = {
  marginCents: 3,
  reach: 'these models',
  groups: ['Fern', 'Moss', 'Reed', 'Sedge'].map(group),
  contrasts: [
    contrast('Fern', 'Moss', 5, 'differ audibly'),
    contrast('Fern', 'Reed', -1.5, 'differ inaudibly'),
    contrast('Fern', 'Sedge', 0.2, 'alike'),
    contrast('Moss', 'Reed', 2.5, 'open'),
  ],
  notes: [],
};
const figure = plotGroups(comparison);

test('plotGroups counts verdicts in its title and says every contrast in its description', () => {
  expect(figure.title).toBe(
    'Rises of 4 groups, 4 contrasts: 1 audibly different, 1 different but inaudibly, 1 alike within ±3 cents, 1 cannot be told yet',
  );
  expect(figure.description).toContain('Fern against Sedge: alike.');
});

test('plotGroups draws every verdict by its own shape, and a row a contrast with its numbers', () => {
  expect(all(figure, '[aria-label=dot]').map((marks) => marks.children.length)).toEqual([1, 1, 1, 1]);
  expect(figure.data).toHaveLength(4);
  expect(figure.data[1]).toMatchObject({ one: 'Fern', other: 'Reed', difference: -1.5, low: -2.7, string: null });
  for (const word of ['+5.0', '−1.5', '+0.2', 'audible', 'inaudible', 'alike', 'open', 'rise toward the 17th fret'])
    expect(texts(figure)).toContain(word);
});

test('plotGroups puts a difference where its number is, the margin on either side of zero', () => {
  const zero = Number(all(figure, '[aria-label=rule] line')[0]!.getAttribute('x1'));
  const band = all(figure, '[aria-label=rect] rect')[0]!;
  const perCent = Number(band.getAttribute('width')) / 6;
  expect(Number(band.getAttribute('x')) - zero).toBeCloseTo(-3 * perCent, 1);
  // The filled circle is the second contrast, at -1.5.
  const circle = all(figure, '[aria-label=dot]')[1]!.querySelector('circle')!;
  expect((Number(circle.getAttribute('cx')) - zero) / perCent).toBeCloseTo(-1.5, 1);
});

test('plotGroups names the two groups where there is one contrast, and cuts unbounded intervals', () => {
  const wide = { ...comparison.contrasts[3]!, simultaneousLow: -Infinity, simultaneousHigh: Infinity };
  const one = plotGroups({ ...comparison, groups: comparison.groups.slice(1, 3), contrasts: [wide] });
  expect(one.title).toBe('Rise of Moss and Reed: cannot be told yet');
  expect(one.svg).not.toMatch(/NaN|Infinity/);
});

test('plotGroups refuses a comparison without contrasts', () => {
  expect(() => plotGroups({ ...comparison, contrasts: [] })).toThrow(
    'Cannot plot no contrast; expected a comparison of 2 groups or more',
  );
});
