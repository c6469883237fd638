import { expect, test } from 'vitest';
import { plotAsLeft } from '../../src/figures/plot-as-left.ts';
import type { AsLeft } from '../../src/policy/as-left.ts';
import { all, texts } from './drawing.ts';

const string = (at: number, errors: Partial<AsLeft>): AsLeft => ({
  instrument: `i${at}`,
  model: 'Fern',
  string: 1,
  received12: 0,
  received17: 0,
  left12: 0,
  left17: 0,
  ...errors,
});
const rows = [1, 2, 3, 4, 5].map((at) =>
  string(at, { received12: at, left12: -at / 10, received17: 2 * at, left17: at / 5 }),
);
const figure = plotAsLeft(rows, 3);

test('plotAsLeft draws every string four times: as received and as left, at the 12th and the 17th', () => {
  expect(all(figure, '[aria-label=dot] circle, [aria-label=dot] path')).toHaveLength(4 * rows.length);
  expect(figure.data).toEqual(rows);
});

// By hand: of 1 to 5, two exceed 3; of 2, 4, ... 10, four do. Medians 3, -0.3, 6 and 0.6; the 5 % point of 1 to 5 is 1.2 by
// linear interpolation (Hyndman & Fan 1996, Am. Stat. 50, 361, type 7).
test('plotAsLeft counts what is beyond the audible threshold and tells quantiles', () => {
  expect(figure.title.replaceAll('\u00a0', ' ')).toBe(
    'Beyond ±3 cents as left: 0 % of strings at the 12th (as received 40 %), 0 % at the 17th (80 %)',
  );
  const description = figure.description.replaceAll('\u00a0', ' ');
  expect(description).toContain('12th, as received: median +3.0, middle 90 % from +1.2 to +4.8, 40 % beyond ±3 cents.');
  expect(description).toContain('17th, as left: median +0.6,');
});

test('plotAsLeft puts the median tick in the middle of symmetric bars and the threshold at equal distances from 0', () => {
  const dashed = all(figure, '[aria-label=rule]').find((group) => group.getAttribute('stroke-dasharray'))!;
  const [low, high] = [...dashed.querySelectorAll('line')].map((line) => Number(line.getAttribute('x1')));
  const zero = Number(
    all(figure, '[aria-label=rule]')
      .find((group) => !group.getAttribute('stroke-dasharray'))!
      .querySelector('line')!
      .getAttribute('x1'),
  );
  expect(zero - low!).toBeCloseTo(high! - zero, 6);
  // The first bar's median of 3 cents stands on the threshold of 3 cents.
  const ticks = all(figure, '[aria-label=link]').at(-1)!.querySelectorAll('path');
  expect(ticks).toHaveLength(4);
  expect(Number(/M([\d.]+),/.exec(ticks[0]!.getAttribute('d')!)![1])).toBeCloseTo(high!, 1);
});

test('plotAsLeft names rows and units', () => {
  for (const words of ['12th, as received', '12th, as left', '17th, as received', '17th, as left'])
    expect(texts(figure)).toContain(words);
  expect(texts(figure)).toContain('error in cents, sharp is positive →');
});

test('plotAsLeft draws a string far beyond the others as a triangle', () => {
  const many = Array.from({ length: 40 }, (_, at) => string(at, { received17: at / 10 }));
  const drawn = plotAsLeft([...many, string(99, { received17: 90 })], 3);
  expect(all(drawn, '[aria-label=dot] path')).toHaveLength(1);
  expect(all(plotAsLeft(many, 3), '[aria-label=dot] path')).toHaveLength(0);
});

test('plotAsLeft draws one string in several where there are too many to see, and counts all', () => {
  const many = Array.from({ length: 1500 }, (_, at) => string(at, { received12: at % 2 === 0 ? 4 : 0 }));
  const drawn = plotAsLeft(many, 3);
  expect(all(drawn, '[aria-label=dot] circle')).toHaveLength(4 * 500);
  expect(texts(drawn).join(' ')).toContain('one string in 3');
  expect(drawn.title).toContain('as received 50\u00a0%');
});

test('plotAsLeft refuses no strings', () => {
  expect(() => plotAsLeft([], 3)).toThrow('Cannot plot no strings as left; expected at least one');
});
