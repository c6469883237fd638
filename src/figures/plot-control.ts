import { signed } from '../acoustics/signed.ts';
import { axisX, axisY, dot, gridY, line, ruleX, ruleY, text } from '@observablehq/plot';
import type { ControlChart, ControlPoint } from '../control/control-chart.ts';
import { dayText } from '../control/instant.ts';
import { signalWords } from '../control/control-words.ts';
import type { ControlSignal, ShopControl } from '../control/shop-control.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, shorten, signedTick } from './label.ts';
import { drawSheet, type Panel } from './panels.ts';

/** Which charts a figure shows. */
export type ControlKind = ControlChart['kind'];

/**
 * Control charts over time, a panel a technician, a model or the shop: every instrument as left, the moving average with its
 * limits, and since when a departure lasts.
 *
 * @throws {RangeError} when there is no dated instrument of that kind
 */
export function plotControl(control: ShopControl, kind: ControlKind): ShownFigure {
  const charts = control.charts.filter((chart) => chart.kind === kind && chart.points.length > 0);
  if (charts.length === 0)
    throw new RangeError(`Cannot plot no chart by ${kind}; expected instruments left after a saddle move, with dates`);
  const points = charts.flatMap((chart) => chart.points);
  const times = points.map(({ at }) => at);
  const margin = Math.max((Math.max(...times) - Math.min(...times)) * 0.02, 3_600_000);
  const time: [Date, Date] = [new Date(Math.min(...times) - margin), new Date(Math.max(...times) + margin)];
  // The farthest twentieth does not set the frame; what lies beyond is drawn at its edge.
  const sizes = points.map(({ departure }) => Math.abs(departure)).sort((a, b) => a - b);
  const limits = points.flatMap(({ average, low, high }) => [Math.abs(average), -low, high]);
  const reach = 1.2 * Math.max(0.5, sizes[Math.ceil(0.95 * sizes.length) - 1]!, ...limits);
  const drawnUp = [new Date(control.standard)];
  const signals = control.signals.filter(({ of }) => of === kind);
  const title = titleOf(kind, signals, charts);
  const description = [
    `${kind === 'model' ? "Departure in cents from the standard, less that of the same hands' other models" : 'Departure in cents from the standard'}, of ${counted(points.length, 'instrument')} as left, in order of time.`,
    ...charts.map(
      ({ name, points: own, judged, sigma }) =>
        `${name === '' ? 'The shop' : name}: ${counted(own.length, 'instrument')}, mean ${signed(mean(own))}${judged ? `, from one instrument to the next ${sigma.toFixed(1)} cents` : ', too few to judge'}.`,
    ),
    ...signals.map((signal) => signalWords(signal, control.window).what),
  ].join(' ');
  const svg = drawSheet({
    title,
    description,
    caption: `Dots: instruments as left. Line: moving average; dashed: its limits. Coloured triangles: instruments unlike those before them; any triangle at the edge lies beyond it. Upright line: since when a departure lasts. 0 is the standard${drawnUp.some((date) => date >= time[0] && date <= time[1]) ? ', drawn up at the dotted line' : ''}.`,
    yLabel: '↑ cents sharp of the standard, at the 12th',
    xLabel: 'date',
    columns: 1,
    panels: charts.map((chart, at) =>
      chartPanel(chart, {
        time,
        reach,
        drawnUp: drawnUp.filter((date) => date >= time[0] && date <= time[1]),
        signals: signals.filter(({ name }) => name === chart.name),
        isLast: at === charts.length - 1,
      }),
    ),
  });
  const data = charts.flatMap(({ name, points: own }) =>
    own.map(({ instrument, model, technician, at, departure, average, low, high, isOdd }) => ({
      chart: name,
      date: dayText(at),
      ...{ instrument, model, technician, departure, average, low, high, isOdd },
    })),
  );
  return shownFigure({ title, description, svg, data });
}

function titleOf(kind: ControlKind, signals: readonly ControlSignal[], charts: readonly ControlChart[]): string {
  const by = { shop: 'The shop', technician: 'Technicians', model: 'Models' }[kind];
  const lasting = signals.filter(({ lasts }) => lasts);
  if (!charts.some(({ judged }) => judged)) return `${by} against the standard: too few instruments to judge`;
  if (lasting.length === 0)
    return `${by} against the standard: ${signals.length === 0 ? 'no lasting departure' : 'no departure that still lasts'}`;
  const said = lasting
    .slice(0, 2)
    .map(
      ({ name, size, fromAt }) =>
        `${name === '' ? 'all' : shorten(name, 20)} ${signed(size)} cents since ${dayText(fromAt)}`,
    );
  const more = lasting.length > 2 ? `, and ${lasting.length - 2} more` : '';
  return `${by} against the standard: ${said.join(', ')}${more}`;
}

function mean(points: readonly ControlPoint[]): number {
  return points.reduce((sum, { departure }) => sum + departure, 0) / points.length;
}

interface Frame {
  readonly time: [Date, Date];
  readonly reach: number;
  /** When the standard was drawn up, if within the time shown. */
  readonly drawnUp: readonly Date[];
  readonly signals: readonly ControlSignal[];
  readonly isLast: boolean;
}

function chartPanel({ name, points, judged }: ControlChart, { time, reach, drawnUp, signals, isLast }: Frame): Panel {
  const dots = points.map((point) => ({ ...point, date: new Date(point.at), y: clipped(point.departure, reach) }));
  const limit = {
    x: 'date',
    stroke: 'currentColor',
    strokeDasharray: '4,3',
    strokeOpacity: 0.8,
    curve: 'step',
  } as const;
  const isOut = ({ departure }: ControlPoint): boolean => Math.abs(departure) > reach;
  const middle = (time[0].getTime() + time[1].getTime()) / 2;
  const triangle = {
    ...{ x: 'date', y: 'y', symbol: 'triangle', r: 4 },
    rotate: ({ departure }: ControlPoint) => (departure < 0 ? 180 : 0),
  } as const;
  const heading = `${name === '' ? 'The shop' : shorten(name, 40)}: ${counted(points.length, 'instrument')}${judged ? '' : ', too few to judge'}`;
  return {
    height: isLast ? 148 : 126,
    options: {
      marginLeft: 44,
      marginRight: 12,
      marginTop: 22,
      marginBottom: isLast ? 26 : 6,
      x: { type: 'utc', domain: time, axis: null },
      y: { domain: [-reach, reach] },
      marks: [
        gridY({ ticks: 3, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisY({ ticks: 3, fontSize: 11, label: null, tickSize: 3, tickFormat: signedTick }),
        ...(isLast ? [axisX({ fontSize: 11, label: null, tickSize: 3 })] : []),
        ruleY([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        ...(judged
          ? [
              line(dots, { ...limit, y: 'low' }),
              line(dots, { ...limit, y: 'high' }),
              line(dots, { x: 'date', y: 'average', stroke: inks.blue, strokeWidth: 2 }),
            ]
          : []),
        dot(
          dots.filter((point) => !point.isOdd && !isOut(point)),
          { x: 'date', y: 'y', r: 2.2, fill: 'currentColor', fillOpacity: 0.55 },
        ),
        dot(
          dots.filter((point) => point.isOdd),
          { ...triangle, fill: inks.vermilion },
        ),
        dot(
          dots.filter((point) => !point.isOdd && isOut(point)),
          { ...triangle, fill: 'currentColor' },
        ),
        ruleX(drawnUp, { stroke: 'currentColor', strokeDasharray: '1,3', strokeWidth: 1.5 }),
        ruleX(signals, {
          x: ({ fromAt }: ControlSignal) => new Date(fromAt),
          stroke: inks.vermilion,
          strokeWidth: 1.5,
        }),
        ...(['start', 'end'] as const).map((textAnchor) =>
          text(
            signals.filter(({ fromAt }) => textAnchor === (fromAt > middle ? 'end' : 'start')),
            {
              x: ({ fromAt }: ControlSignal) => new Date(fromAt),
              frameAnchor: 'top',
              textAnchor,
              dx: textAnchor === 'start' ? 4 : -4,
              dy: 4,
              fontSize: 11,
              text: ({ fromAt, size }: ControlSignal) => `${dayText(fromAt)}: ${signed(size)}`,
            },
          ),
        ),
        text([heading], {
          frameAnchor: 'top-left',
          textAnchor: 'start',
          dx: -40,
          dy: -16,
          fontSize: 12,
          fontWeight: 'bold',
        }),
      ],
    },
  };
}

function clipped(value: number, reach: number): number {
  return Math.max(-reach, Math.min(reach, value));
}
