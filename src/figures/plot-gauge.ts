import { axisX, dot, gridX, link, text } from '@observablehq/plot';
import type { GaugeSource, VarianceEstimate } from '../statistics/gauge-anova.ts';
import type { GaugeStudy } from '../statistics/gauge-study.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted } from './label.ts';
import { drawSheet } from './panels.ts';

/** What each source is at the bench. */
const sources: Readonly<Partial<Record<GaugeSource, string>>> = {
  repeatability: 'same hand, read again',
  operator: 'between hands',
  interaction: 'hand by string',
  gauge: 'any hand, read again',
  part: 'between strings',
};

/**
 * What the scatter of readings is made of: standard deviations in cents with 95 % intervals, same hand, between hands, and between
 * the strings read.
 *
 * @param fret that was read
 */
export function plotGauge(study: GaugeStudy, fret: number): ShownFigure {
  const rows = (Object.entries(sources) as [GaugeSource, string][]).flatMap(([source, name]) => {
    const found = study.components[source];
    return found ? [{ source, name, ...deviations(found) }] : [];
  });
  const [own, all] = ['repeatability', 'gauge'].map((source) => rows.find((row) => row.source === source));
  const title = `At fret ${fret} the same hand reads again within ${(1.96 * own!.sd).toFixed(1)} cents${all ? `, another hand within ${(1.96 * all.sd).toFixed(1)}` : ''} (95 %)`;
  const description = [
    `Standard deviations in cents of ${counted(study.readings, 'reading')} of ${counted(study.parts, 'string')} by ${counted(study.operators, 'technician')}, with 95 % intervals.`,
    ...rows.map(({ name, sd, low, high }) => `${name}: ${sd.toFixed(2)} (${low.toFixed(2)} to ${high.toFixed(2)}).`),
    ...study.notes,
  ].join(' ');
  // An upper limit from two or three hands runs far out; it does not set the frame.
  const reach = 1.15 * Math.max(...rows.map(({ sd, high }) => Math.min(high, 3 * sd + own!.sd)));
  const svg = drawSheet({
    title,
    description,
    caption: 'Dot: standard deviation; bar: 95 % interval, cut at the frame.',
    xLabel: 'standard deviation in cents →',
    columns: 1,
    panels: [
      {
        height: 40 + 26 * rows.length,
        options: {
          marginLeft: 150,
          marginRight: 52,
          marginTop: 6,
          marginBottom: 26,
          x: { domain: [0, reach] },
          y: { type: 'linear', domain: [rows.length, 0], axis: null },
          marks: [
            gridX({ ticks: 6, stroke: 'currentColor', strokeOpacity: 0.12 }),
            axisX({ fontSize: 11, label: null, ticks: 6, tickSize: 3 }),
            link(rows, {
              x1: 'low',
              x2: ({ high }: { high: number }) => Math.min(high, reach),
              y1: (_: unknown, at: number) => at + 0.5,
              y2: (_: unknown, at: number) => at + 0.5,
              stroke: inks.blue,
              strokeWidth: 3,
            }),
            dot(rows, { x: 'sd', y: (_: unknown, at: number) => at + 0.5, r: 4.5, fill: 'currentColor' }),
            text(rows, {
              y: (_: unknown, at: number) => at + 0.5,
              frameAnchor: 'left',
              textAnchor: 'end',
              dx: -10,
              fontSize: 12,
              text: 'name',
            }),
            text(rows, {
              y: (_: unknown, at: number) => at + 0.5,
              frameAnchor: 'right',
              textAnchor: 'end',
              dx: 46,
              fontSize: 12,
              fontWeight: 'bold',
              text: ({ sd }: { sd: number }) => sd.toFixed(2),
            }),
          ],
        },
      },
    ],
  });
  return shownFigure({ title, description, svg, data: rows });
}

function deviations({ variance, low, high }: VarianceEstimate): {
  readonly sd: number;
  readonly low: number;
  readonly high: number;
} {
  return { sd: Math.sqrt(variance), low: Math.sqrt(low), high: Math.sqrt(high) };
}
