import { signed } from '../acoustics/signed.ts';
import { axisX, axisY, dot, gridX, ruleX, ruleY, text } from '@observablehq/plot';
import { extent } from 'd3-array';
import type { ModelTrend, Trend } from '../trend/trend.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten, signedTick } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** One estimate drawn, in cents with its 95 % interval. */
interface RiseRow {
  readonly model: string;
  readonly string: number;
  readonly kind: 'pooled' | 'raw';
  readonly estimate: number;
  readonly low: number;
  readonly high: number;
  readonly instruments: number;
}

interface Limits {
  readonly low: number;
  readonly high: number;
}

/** Rise of each model, string by string: raw, from its own instruments alone, beside pooled, with 95 % intervals. */
export function plotRise(trend: Trend): ShownFigure {
  const data = trend.models.flatMap(riseRows);
  if (data.length === 0) throw new RangeError('Cannot plot the rise of no model; expected a trend with at least one');
  const pooled = data.filter(({ kind }) => kind === 'pooled');
  const limits = frame(data);
  const most = pooled.reduce((first, row) => (row.estimate > first.estimate ? row : first));
  const least = pooled.reduce((first, row) => (row.estimate < first.estimate ? row : first));
  const isOne = trend.models.length === 1;
  const named = ({ model, string }: RiseRow): string =>
    isOne ? `string ${string}` : `${shorten(model, 24)} string ${string}`;
  const title = `Rise${isOne ? ` of ${shorten(most.model, 30)}` : ''} toward the 17th fret: ${
    most === least
      ? `${signed(most.estimate)} cents`
      : `${signed(least.estimate)} cents (${named(least)}) to ${signed(most.estimate)} (${named(most)})`
  }`;
  const isCut = data.some((row) => row.low < limits.low || row.high > limits.high);
  const description = [
    `Rise of ${counted(trend.models.length, 'model')} by string, in cents with 95 % intervals, pooled beside raw.`,
    ...trend.models.map(
      ({ model, instruments, cells }) =>
        `${model} (${counted(instruments, 'instrument')}): ${cells.map(({ string, rise, raw }) => `string ${string} ${signed(rise.estimate)} (${signed(rise.low)} to ${signed(rise.high)})${raw ? `, raw ${signed(raw.estimate)}` : ''}`).join('; ')}.`,
    ),
  ].join(' ');
  const columns = Math.min(2, trend.models.length);
  const svg = drawSheet({
    title,
    description,
    caption: `Solid dot: pooled, leaning on the other models and strings; its value at the right. Open diamond: raw, these instruments alone. Lines: 95 % intervals${isCut ? ', an arrow where one goes on' : ''}.`,
    yLabel: 'string',
    xLabel: 'rise in cents, sharp is positive →',
    columns,
    panels: trend.models.map((model) => modelPanel(model, limits, panelWidth(columns))),
  });
  return shownFigure({ title, description, svg, data: data.map((row) => ({ ...row })) });
}

/**
 * Where the frame ends: it holds all pooled intervals and all estimates, and raw intervals as far as a quarter of that to
 * either side. Those of two or three instruments may be many times as long as all else and do not set the scale.
 */
function frame(rows: readonly RiseRow[]): Limits {
  const must = rows.flatMap(({ kind, estimate, low, high }) => (kind === 'pooled' ? [low, high] : [estimate]));
  const [low, high] = extent([0, ...must]) as [number, number];
  const beyond = 0.25 * (high - low);
  const margin = 0.03 * (high - low);
  return {
    low: Math.max(low - beyond, Math.min(low, ...rows.map((row) => row.low))) - margin,
    high: Math.min(high + beyond, Math.max(high, ...rows.map((row) => row.high))) + margin,
  };
}

function riseRows({ model, cells }: ModelTrend): RiseRow[] {
  return cells.flatMap(({ string, instruments, rise, raw }) =>
    (['pooled', 'raw'] as const).flatMap((kind) => {
      const estimate = kind === 'pooled' ? rise : raw;
      return estimate
        ? [
            {
              model,
              string,
              kind,
              estimate: estimate.estimate,
              low: estimate.low,
              high: estimate.high,
              instruments,
            },
          ]
        : [];
    }),
  );
}

function modelPanel(model: ModelTrend, limits: Limits, width: number): Panel {
  const rows = riseRows(model).map((row) => ({
    ...row,
    from: Math.max(row.low, limits.low),
    to: Math.min(row.high, limits.high),
  }));
  const [pooled, raw] = (['pooled', 'raw'] as const).map((kind) => rows.filter((row) => row.kind === kind));
  const count = `, ${counted(model.instruments, 'instrument')}`;
  const name = shorten(model.model, charactersIn(width - 30, 12) - count.length);
  // Ends of raw intervals that the frame cuts off.
  const cutLow = raw!.filter(({ low }) => low < limits.low);
  const cutHigh = raw!.filter(({ high }) => high > limits.high);
  return {
    height: 48 + 20 * model.cells.length,
    options: {
      marginLeft: 26,
      marginRight: 40,
      marginTop: 22,
      marginBottom: 26,
      x: { domain: [limits.low, limits.high] },
      y: { type: 'point', domain: model.cells.map(({ string }) => string), padding: 0.6 },
      marks: [
        gridX({ ticks: 6, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 6, tickSize: 3, tickFormat: signedTick }),
        axisY({ fontSize: 12, label: null, tickSize: 0 }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        ruleY(raw, { x1: 'from', x2: 'to', y: 'string', dy: 4, stroke: inks.vermilion, strokeWidth: 1 }),
        dot(cutLow, {
          x: limits.low,
          y: 'string',
          dy: 4,
          dx: 2,
          r: 3,
          symbol: 'triangle',
          rotate: -90,
          fill: inks.vermilion,
        }),
        dot(cutHigh, {
          x: limits.high,
          y: 'string',
          dy: 4,
          dx: -2,
          r: 3,
          symbol: 'triangle',
          rotate: 90,
          fill: inks.vermilion,
        }),
        dot(raw, {
          x: 'estimate',
          y: 'string',
          dy: 4,
          r: 3.2,
          symbol: 'diamond',
          stroke: inks.vermilion,
          strokeWidth: 1.5,
        }),
        ruleY(pooled, { x1: 'from', x2: 'to', y: 'string', dy: -3, stroke: inks.blue, strokeWidth: 2.5 }),
        dot(pooled, { x: 'estimate', y: 'string', dy: -3, r: 4, fill: inks.blue }),
        text(pooled, {
          y: 'string',
          frameAnchor: 'right',
          textAnchor: 'end',
          dx: 36,
          fontSize: 12,
          text: (row: RiseRow) => signed(row.estimate),
        }),
        text([`${name}${count}`], { frameAnchor: 'top-left', dx: -20, dy: -18, fontSize: 12, fontWeight: 'bold' }),
      ],
    },
  };
}
