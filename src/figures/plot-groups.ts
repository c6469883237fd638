import { signed } from '../acoustics/signed.ts';
import { axisX, dot, gridX, link, rectX, ruleX, text } from '@observablehq/plot';
import type { GroupComparison, GroupContrast, GroupVerdict } from '../trend/compare-groups.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, shorten, signedTick, wrap } from './label.ts';
import { drawSheet, type Panel } from './panels.ts';

const words: Record<GroupVerdict, string> = {
  'differ audibly': 'audible',
  'differ inaudibly': 'inaudible',
  alike: 'alike',
  open: 'open',
};

/** One contrast drawn, in cents. */
interface ContrastRow {
  readonly quantity: GroupContrast['quantity'];
  readonly one: string;
  readonly other: string;
  readonly string: number | null;
  readonly difference: number;
  readonly low: number;
  readonly high: number;
  readonly low90: number;
  readonly high90: number;
  readonly adjustedP: number;
  readonly equivalenceP: number;
  readonly standardised: number | null;
  readonly verdict: GroupVerdict;
}

/** Differences of groups with their simultaneous 95 % and their 90 % intervals, over a band of what is too small to hear. */
export function plotGroups({ contrasts, marginCents, groups }: GroupComparison): ShownFigure {
  if (contrasts.length === 0)
    throw new RangeError('Cannot plot no contrast; expected a comparison of 2 groups or more');
  const data = contrasts.map(rowOf);
  const quantities = (['rise', 'nut'] as const).filter((quantity) => data.some((row) => row.quantity === quantity));
  const ends = data.flatMap(({ low, high }) => [low, high]).filter(Number.isFinite);
  const reach = 1.08 * Math.max(marginCents, ...ends.map(Math.abs));
  const of = (verdict: GroupVerdict): number =>
    data.filter((row) => row.quantity === 'rise' && row.verdict === verdict).length;
  const rises = data.filter(({ quantity }) => quantity === 'rise').length;
  const counts = [
    [of('differ audibly'), 'audibly different'],
    [of('differ inaudibly'), 'different but inaudibly'],
    [of('alike'), `alike within ±${marginCents} cents`],
    [of('open'), 'cannot be told yet'],
  ] as const;
  const found = counts
    .filter(([count]) => count > 0)
    .map(([count, what]) => `${rises === 1 ? '' : `${count} `}${what}`);
  const title =
    rises === 1
      ? `Rise of ${shorten(groups[0]!.name, 24)} and ${shorten(groups[1]!.name, 24)}: ${found[0]!}`
      : `Rises of ${counted(groups.length, 'group')}, ${counted(rises, 'contrast')}: ${found.join(', ')}`;
  const svg = drawSheet({
    title,
    description: contrasts.map(({ sentence }) => sentence).join(' '),
    caption: `One group less the other. Band: ±${marginCents} cents, too small to matter to the ear. Line: 95 % interval, all of a panel judged together; thick: 90 % interval, which lies in the band where two one-sided tests show the groups alike. Triangle: audibly different; filled circle: different, but inaudibly; open circle: alike; open square: cannot be told yet.`,
    xLabel: 'difference in cents, positive where the first is sharper →',
    columns: 1,
    panels: quantities.map((quantity) =>
      panel(
        data.filter((row) => row.quantity === quantity),
        { heading: quantity === 'rise' ? 'rise toward the 17th fret' : 'nut offset', reach, marginCents },
      ),
    ),
  });
  return shownFigure({
    title,
    description: contrasts.map(({ sentence }) => sentence).join(' '),
    svg,
    data: data.map((row) => ({ ...row })),
  });
}

function rowOf(contrast: GroupContrast): ContrastRow {
  const { quantity, one, other, strings, difference, equivalence, standardised, verdict, adjustedP } = contrast;
  return {
    quantity,
    one,
    other,
    string: strings.length === 1 ? strings[0]! : null,
    difference: difference.estimate,
    low: contrast.simultaneousLow,
    high: contrast.simultaneousHigh,
    low90: equivalence.low,
    high90: equivalence.high,
    adjustedP,
    equivalenceP: equivalence.adjustedP,
    standardised: standardised?.estimate ?? null,
    verdict,
  };
}

function panel(
  rows: readonly ContrastRow[],
  { heading, reach, marginCents }: { readonly heading: string; readonly reach: number; readonly marginCents: number },
): Panel {
  const bars = rows.map((row, at) => ({
    ...row,
    at,
    name: wrap(
      `${shorten(row.one, 20)} − ${shorten(row.other, 20)}${row.string === null ? '' : `, string ${row.string}`}`,
      24,
    ).join('\n'),
    from: Math.max(-reach, row.low),
    to: Math.min(reach, row.high),
    from90: Math.max(-reach, row.low90),
    to90: Math.min(reach, row.high90),
    hue: row.verdict === 'differ audibly' ? inks.vermilion : row.verdict === 'open' ? 'currentColor' : inks.blue,
  }));
  const of = (verdict: GroupVerdict): typeof bars => bars.filter((row) => row.verdict === verdict);
  return {
    height: 50 + 34 * rows.length,
    options: {
      marginLeft: 160,
      marginRight: 120,
      marginTop: 34,
      marginBottom: 20,
      x: { domain: [-reach, reach] },
      y: { type: 'linear', domain: [-0.5, rows.length - 0.5], reverse: true, axis: null },
      marks: [
        rectX([0], { x1: -marginCents, x2: marginCents, fill: 'currentColor', fillOpacity: 0.08 }),
        gridX({ ticks: 7, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 7, tickSize: 3, tickFormat: signedTick }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        link(bars, { x1: 'from', x2: 'to', y1: 'at', y2: 'at', stroke: 'hue', strokeWidth: 1.5 }),
        link(bars, { x1: 'from90', x2: 'to90', y1: 'at', y2: 'at', stroke: 'hue', strokeWidth: 5, strokeOpacity: 0.6 }),
        dot(of('differ audibly'), { x: 'difference', y: 'at', r: 5, symbol: 'triangle', fill: inks.vermilion }),
        dot(of('differ inaudibly'), { x: 'difference', y: 'at', r: 4.5, fill: inks.blue }),
        dot(of('alike'), { x: 'difference', y: 'at', r: 4.5, stroke: inks.blue, strokeWidth: 2 }),
        dot(of('open'), { x: 'difference', y: 'at', r: 5, symbol: 'square', stroke: 'currentColor', strokeWidth: 2 }),
        text(bars, { y: 'at', frameAnchor: 'left', textAnchor: 'end', dx: -10, fontSize: 12, text: 'name' }),
        text(bars, {
          y: 'at',
          frameAnchor: 'right',
          textAnchor: 'end',
          dx: 44,
          fontSize: 12,
          text: ({ difference }: ContrastRow) => signed(difference),
        }),
        text(bars, {
          y: 'at',
          frameAnchor: 'right',
          textAnchor: 'start',
          dx: 54,
          fontSize: 12,
          text: ({ verdict }: ContrastRow) => words[verdict],
        }),
        text([heading], { frameAnchor: 'top-left', dx: -160, dy: -30, fontSize: 12, fontWeight: 'bold' }),
      ],
    },
  };
}
