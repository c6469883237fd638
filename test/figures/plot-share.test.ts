import { expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { plotShare } from '../../src/figures/plot-share.ts';
import type { StandardEntry } from '../../src/policy/standard.ts';
import { all, texts } from './drawing.ts';
import { inventedStandard, inventedTrend } from './invented-trend.ts';

const { standard } = inventedStandard(inventedTrend({ models: ['Fern'], rises: [3, 2, 4] }));
const even = kappa / (1 + kappa);
const own: Partial<StandardEntry>[] = [
  { share: 0, shareLow: 0, shareHigh: 0.2, verdict: '12th exact' },
  { share: even, shareLow: 0.5, shareHigh: 0.7, verdict: 'either' },
  { share: 1, shareLow: 0.9, shareHigh: 1, verdict: 'measure more first', saddle: [2, 3] },
];
const entries = standard.entries.map((entry, at) => ({ ...entry, ...own[at] }));
const figure = plotShare({ ...standard, entries });

test('plotShare places shares on the lines of 12th exact, even split and 17th exact', () => {
  const rules = all(figure, '[aria-label=rule] line').filter(
    (line) => line.getAttribute('x1') === line.getAttribute('x2'),
  );
  const [twelfth, seventeenth, middle] = rules.map((line) => Number(line.getAttribute('x1'))) as [
    number,
    number,
    number,
  ];
  const marks = all(figure, '[aria-label=dot] circle, [aria-label=dot] path');
  expect(marks).toHaveLength(3);
  expect(Number(marks[0]!.getAttribute('cx'))).toBeCloseTo(twelfth, 1);
  const xs = marks.slice(1).map((mark) => Number(/translate\(([\d.]+)/.exec(mark.getAttribute('transform')!)![1]));
  expect(xs[0]).toBeCloseTo(middle, 1);
  expect(xs[1]).toBeCloseTo(seventeenth, 1);
  expect((middle - twelfth) / (seventeenth - twelfth)).toBeCloseTo(kappa / (1 + kappa), 3);
});

test('plotShare writes the axis in words and the weights of 12th/17th', () => {
  const written = texts(figure).map((text) => text.replace(/\s+/g, ' '));
  for (const words of ['12thexact', 'evensplit', '17thexact'])
    expect(written.map((text) => text.replaceAll(' ', ''))).toContain(words);
  expect(written).toEqual(expect.arrayContaining(['100/0', '35/65', '0/100']));
});

test('plotShare gives rows, numbers and verdicts', () => {
  expect(figure.data).toHaveLength(3);
  expect(figure.data[2]).toMatchObject({ model: 'Fern', string: 3, saddle: '2|3', share: 1, shareLow: 0.9 });
  expect(figure.title).toBe(
    'Where the standard splits Fern: 1 of 3 strings near 12th exact, 1 near the even split, 1 near 17th exact',
  );
  expect(figure.description).toContain('string 2 0.63 (0.50 to 0.70), either');
});

test('plotShare marks what is decided, what does not matter and what is open by shape', () => {
  const filled = all(figure, '[aria-label=dot]').map((group) => group.getAttribute('fill'));
  expect(filled.filter((fill) => fill === 'none')).toHaveLength(2);
  const caption = texts(figure).join(' ');
  for (const words of ['Solid dot: decided.', 'Open square:', 'Open triangle:']) expect(caption).toContain(words);
  expect(texts(plotShare({ ...standard, entries: entries.slice(0, 1) })).join(' ')).not.toContain('Open square');
});

test('plotShare refuses a standard without entries', () => {
  expect(() => plotShare({ ...standard, entries: [] })).toThrow('Cannot plot the shares of a standard without entries');
});
