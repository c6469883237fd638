import { expect, test } from 'vitest';
import { plotBacktest } from '../../src/figures/plot-backtest.ts';
import { type Backtest, policies, type Realised, type TestedInstrument } from '../../src/policy/backtest.ts';
import { comparePolicies } from '../../src/policy/backtest-comparison.ts';
import { all, texts } from './drawing.ts';

/** Instruments on which the standard leaves 1 + at / 100 cents, and each rule that much and the given more or less. */
function tried(count: number, more: readonly [number, number, number, number], frets = 7): Backtest {
  const same = (value: number): Realised => ({ audible: value, audible12And17: value, error: value, cost: value });
  const instruments = Array.from({ length: count }, (_, at): TestedInstrument => {
    const wobble = at % 2 === 0 ? 0.02 : -0.02;
    const left = [0, ...more.map((one) => one + wobble)].map((one) => same(1 + at / 100 + one));
    return {
      instrument: `i${at}`,
      model: 'Fern',
      strings: 6,
      frets,
      realised: Object.fromEntries(policies.map((policy, place) => [policy, left[place]!])) as Record<
        (typeof policies)[number],
        Realised
      >,
    };
  });
  return { audibleCents: 3, candidates: count, instruments, comparisons: comparePolicies(instruments) };
}
// Of 10 pairs the wobble of +-0.02 makes the interval +-0.015 wide: rules 0.5 and 0.2 worse, 0.1 better, and alike.
const figure = plotBacktest(tried(10, [0.5, 0.2, -0.1, 0]));

test('plotBacktest says how many rules the standard beats and which leaves less', () => {
  expect(figure.title).toBe(
    'Tried on 10 instruments not seen before: the standard beats 2 of 4 rules of thumb; even split leaves 0.10 cents less',
  );
  expect(figure.description).toContain('Against "12th exact" the standard wins by 0.50 cents');
  expect(figure.description).toContain('"even split" does better than the standard, by 0.10 cents');
});

test('plotBacktest draws every rule once a panel, by shape: standard better, rule better, no difference', () => {
  const groups = all(figure, '[aria-label=dot]');
  // Four panels of one group a shape: 2 filled circles, 1 triangle, 1 open circle.
  expect(groups.map((group) => group.children.length)).toEqual([2, 1, 1, 2, 1, 1, 2, 1, 1, 2, 1, 1]);
  expect(all(figure, '[aria-label=dot] path, [aria-label=dot] circle')).toHaveLength(16);
  expect(figure.data).toHaveLength(16);
});

test('plotBacktest puts a difference where its number is, zero in the middle', () => {
  const zero = Number(all(figure, '[aria-label=rule] line')[0]!.getAttribute('x1'));
  const [first, second] = [...all(figure, '[aria-label=dot]')[0]!.querySelectorAll('circle')].map(
    (circle) => Number(circle.getAttribute('cx')) - zero,
  );
  expect(first! / second!).toBeCloseTo(-0.5 / -0.2, 2);
  expect(first!).toBeLessThan(0);
});

test('plotBacktest writes differences and tallies', () => {
  const words = texts(figure);
  for (const word of ['−0.50', '+0.10', '0.000', 'better', 'worse', 'same', '12th exact', '10'])
    expect(words).toContain(word);
});

test('plotBacktest leaves out the panel of a view that no instrument was read for', () => {
  const sparse = plotBacktest(tried(10, [0.5, 0.2, -0.1, 0], 2));
  expect(texts(sparse).filter((text) => text.includes('10 instruments'))).toHaveLength(1 + 3);
  expect(all(sparse, '[aria-label=dot] circle, [aria-label=dot] path')).toHaveLength(12);
});

test('plotBacktest of one instrument claims nothing', () => {
  const one = plotBacktest(tried(1, [0.5, 0.2, -0.1, 0]));
  expect(one.title).toBe(
    'Tried on 1 instrument not seen before: no difference between the standard and any rule of thumb can be shown',
  );
  expect(one.svg).not.toMatch(/NaN|Infinity/);
});
