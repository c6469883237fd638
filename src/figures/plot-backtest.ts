import { axisX, dot, gridX, link, ruleX, text } from '@observablehq/plot';
import type { Backtest } from '../policy/backtest.ts';
import { backtestSentences, type Comparison, meanCents, type View } from '../policy/backtest-comparison.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, signedTick, wrap } from './label.ts';
import { drawSheet, type Panel } from './panels.ts';

/** The views drawn, a panel each; the cost of the chosen loss is left to the table, since its unit is another. */
const drawn: readonly { readonly view: View; readonly heading: (audibleCents: number) => string }[] = [
  { view: 'frets read', heading: (a) => `beyond ±${a} cents, over the frets read as they are played` },
  { view: 'many frets', heading: (a) => `beyond ±${a} cents, where 5 frets or more were read` },
  { view: '12th and 17th', heading: (a) => `beyond ±${a} cents, at the 12th and the 17th alone` },
  { view: 'error', heading: () => 'root mean square error, over the frets read' },
];

type Outcome = 'standard' | 'rule' | 'open';
const outcomeOf = ({ low, high }: Comparison): Outcome => (high < 0 ? 'standard' : low > 0 ? 'rule' : 'open');

/**
 * The standard against every rule of thumb on instruments that it had not seen: mean paired difference in audible excess with its
 * 95 % interval, and on how many instruments either leaves less.
 */
export function plotBacktest(tried: Backtest): ShownFigure {
  const { instruments, candidates, comparisons, audibleCents } = tried;
  const views = drawn.filter(({ view }) => comparisons[view].length > 0);
  const all = comparisons['frets read'];
  const title = `Tried on ${counted(instruments.length, 'instrument')} not seen before${instruments.length < candidates ? ` (a sample of ${candidates})` : ''}: ${verdict(all)}`;
  const description = views.map(({ view }) => backtestSentences(tried, view).join(' ')).join(' ');
  // Unbounded intervals, of one instrument, reach beyond the frame.
  const ends = views.flatMap(({ view }) =>
    comparisons[view].flatMap(({ difference, low, high }) => [difference, low, high]),
  );
  const reach = 1.1 * Math.max(0.01, ...ends.filter(Number.isFinite).map(Math.abs));
  const svg = drawSheet({
    title,
    description,
    caption: `Mean over instruments of the standard's cents less the rule's, with 95 % interval. Filled circle: the standard leaves less; triangle: the rule does; open circle: no difference shown. At the right: the difference, and on how many instruments the standard is better, worse, or within 0.01 cents the same.`,
    xLabel: 'difference in cents: ← the standard leaves less | the rule leaves less →',
    columns: 1,
    panels: views.map(({ view, heading }) => panel(comparisons[view], { heading: heading(audibleCents), reach })),
  });
  const data = drawn.flatMap(({ view }) => comparisons[view].map((one) => ({ view, ...one })));
  return shownFigure({ title, description, svg, data });
}

/** In few words: how many rules the standard beats, which beat it, and by how much. */
function verdict(all: readonly Comparison[]): string {
  const of = (outcome: Outcome): Comparison[] => all.filter((one) => outcomeOf(one) === outcome);
  const [won, lost] = [of('standard'), of('rule')];
  const beats = won.length > 0 ? `the standard beats ${won.length} of ${all.length} rules of thumb` : '';
  const beaten = lost.map(({ rule, difference }) => `${rule} leaves ${meanCents(difference)} cents less`).join(', ');
  return (
    [beats, beaten].filter(Boolean).join('; ') ||
    'no difference between the standard and any rule of thumb can be shown'
  );
}

/** A mean difference with its sign, as long as `meanCents` makes it. */
function signedMean(cents: number): string {
  const size = meanCents(cents);
  return Number(size) === 0 ? size : `${cents < 0 ? '−' : '+'}${size}`;
}

function panel(
  rows: readonly Comparison[],
  { heading, reach }: { readonly heading: string; readonly reach: number },
): Panel {
  const bars = rows.map((one, at) => ({
    ...one,
    at,
    name: wrap(one.rule, 22).join('\n'),
    from: Math.max(-reach, one.low),
    to: Math.min(reach, one.high),
    hue: { standard: inks.blue, rule: inks.vermilion, open: 'currentColor' }[outcomeOf(one)],
  }));
  const of = (outcome: Outcome): typeof bars => bars.filter((one) => outcomeOf(one) === outcome);
  const tallies = [
    { name: 'cents', dx: 50, value: ({ difference }: Comparison) => signedMean(difference) },
    { name: 'better', dx: 96, value: ({ won }: Comparison) => `${won}` },
    { name: 'worse', dx: 136, value: ({ lost }: Comparison) => `${lost}` },
    { name: 'same', dx: 172, value: ({ tied }: Comparison) => `${tied}` },
  ];
  return {
    height: 50 + 34 * rows.length,
    options: {
      marginLeft: 150,
      marginRight: 178,
      marginTop: 34,
      marginBottom: 20,
      x: { domain: [-reach, reach] },
      y: { type: 'linear', domain: [-0.5, rows.length - 0.5], reverse: true, axis: null },
      marks: [
        gridX({ ticks: 7, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 7, tickSize: 3, tickFormat: signedTick }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        link(bars, { x1: 'from', x2: 'to', y1: 'at', y2: 'at', stroke: 'hue', strokeWidth: 4, strokeOpacity: 0.8 }),
        dot(of('standard'), { x: 'difference', y: 'at', r: 4, fill: inks.blue }),
        dot(of('rule'), { x: 'difference', y: 'at', r: 5, symbol: 'triangle', fill: inks.vermilion }),
        dot(of('open'), { x: 'difference', y: 'at', r: 4, stroke: 'currentColor', strokeWidth: 2 }),
        text(bars, { y: 'at', frameAnchor: 'left', textAnchor: 'end', dx: -10, fontSize: 12, text: 'name' }),
        ...tallies.flatMap(({ name, dx, value }) => [
          text(bars, { y: 'at', frameAnchor: 'right', textAnchor: 'end', dx, fontSize: 12, text: value }),
          text([name], { frameAnchor: 'top-right', textAnchor: 'end', dx, dy: -12, fontSize: 11 }),
        ]),
        text([`${heading} (${counted(rows[0]!.instruments, 'instrument')})`], {
          frameAnchor: 'top-left',
          dx: -150,
          dy: -30,
          fontSize: 12,
          fontWeight: 'bold',
        }),
      ],
    },
  };
}
