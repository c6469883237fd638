import { signed } from '../acoustics/signed.ts';
import { axisX, dot, gridX, link, ruleX, text } from '@observablehq/plot';
import { type Decomposition, mostInflation } from '../trend/decompose.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten, signedTick } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** One part of a rise drawn, in cents with its 95 % interval. */
interface CauseRow {
  readonly of: string;
  readonly cause: string;
  readonly rise: number;
  readonly low: number;
  readonly high: number;
  /** How it is known: told apart from the readings, held apart badly, taken as predicted; or the sum of all. */
  readonly known: 'told apart' | 'held apart badly' | 'as predicted' | 'sum';
  readonly inflation: number | null;
}

/** What nut, stretch, stiffness, placement and the rest have in the rise of a model or an instrument, a panel each. */
export function plotCauses(decompositions: readonly Decomposition[]): ShownFigure {
  const [first] = decompositions;
  if (!first) throw new RangeError('Cannot plot the causes of no rise; expected at least one decomposition');
  const data = decompositions.flatMap(rowsOf);
  const largest = rowsOf(first)
    .filter(({ known }) => known !== 'sum')
    .reduce((a, b) => (Math.abs(b.rise) > Math.abs(a.rise) ? b : a));
  const title = `Rise of ${shorten(first.of, 30)}, ${signed(first.total.estimate)} cents: most of it ${largest.cause}, ${signed(largest.rise)}`;
  const description = decompositions
    .map(({ of, instruments, notes }) => `${of} (${counted(instruments, 'instrument')}): ${notes.join(' ')}`)
    .join(' ');
  const ends = [0, ...data.flatMap(({ low, high }) => [low, high])];
  const margin = 0.05 * (Math.max(...ends) - Math.min(...ends));
  const limits: [number, number] = [Math.min(...ends) - margin, Math.max(...ends) + margin];
  const columns = Math.min(2, decompositions.length);
  const svg = drawSheet({
    title,
    description,
    caption:
      'Parts add up to the rise. Filled circle: told apart; open circle: held apart badly; open square: taken as predicted; diamond: the sum. Lines: 95 % intervals. The saddle has no part in a rise.',
    xLabel: 'cents of rise, mean over strings →',
    columns,
    panels: decompositions.map((one) => panel(one, limits, panelWidth(columns))),
  });
  return shownFigure({ title, description, svg, data: data.map((row) => ({ ...row })) });
}

function rowsOf({ of, parts, total }: Decomposition): CauseRow[] {
  return [
    ...parts.map(({ cause, rise, size, inflation }): CauseRow => ({
      of,
      cause,
      rise: rise.estimate,
      low: rise.low,
      high: rise.high,
      known: size === null ? 'as predicted' : inflation > mostInflation ? 'held apart badly' : 'told apart',
      inflation: size === null ? null : inflation,
    })),
    { of, cause: 'whole rise', rise: total.estimate, low: total.low, high: total.high, known: 'sum', inflation: null },
  ];
}

function panel(decomposition: Decomposition, limits: [number, number], width: number): Panel {
  const rows = rowsOf(decomposition).map((row, at) => ({ ...row, at, name: shorten(row.cause, 16) }));
  const of = (known: CauseRow['known']): typeof rows => rows.filter((row) => row.known === known);
  const count = `, ${counted(decomposition.instruments, 'instrument')}`;
  const heading = `${shorten(decomposition.of, charactersIn(width - 20, 12) - count.length)}${count}`;
  return {
    height: 50 + 24 * rows.length,
    options: {
      marginLeft: 100,
      marginRight: 44,
      marginTop: 26,
      marginBottom: 22,
      x: { domain: limits },
      y: { type: 'linear', domain: [-0.5, rows.length - 0.5], reverse: true, axis: null },
      marks: [
        gridX({ ticks: 6, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 6, tickSize: 3, tickFormat: signedTick }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        link(rows, { x1: 'low', x2: 'high', y1: 'at', y2: 'at', stroke: inks.blue, strokeWidth: 2.5 }),
        dot(of('told apart'), { x: 'rise', y: 'at', r: 4, fill: inks.blue }),
        dot(of('held apart badly'), { x: 'rise', y: 'at', r: 4, stroke: inks.blue, strokeWidth: 2 }),
        dot(of('as predicted'), { x: 'rise', y: 'at', r: 4, symbol: 'square', stroke: inks.vermilion, strokeWidth: 2 }),
        dot(of('sum'), { x: 'rise', y: 'at', r: 5, symbol: 'diamond', fill: inks.vermilion }),
        text(rows, { y: 'at', frameAnchor: 'left', textAnchor: 'end', dx: -8, fontSize: 12, text: 'name' }),
        text(rows, {
          y: 'at',
          frameAnchor: 'right',
          textAnchor: 'end',
          dx: 40,
          fontSize: 12,
          text: ({ rise }: CauseRow) => signed(rise),
        }),
        text([heading], { frameAnchor: 'top-left', dx: -96, dy: -22, fontSize: 12, fontWeight: 'bold' }),
      ],
    },
  };
}
