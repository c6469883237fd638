import { signed } from '../acoustics/signed.ts';
import { areaY, axisX, axisY, dot, line, ruleX, ruleY, text } from '@observablehq/plot';
import { saddleLeverage } from '../acoustics/frets.ts';
import { forecastModel } from '../policy/forecast.ts';
import { neckErrors, type StringForecast } from '../policy/neck.ts';
import type { Trend } from '../trend/trend.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, shorten, signedTick } from './label.ts';
import { type MovedReading, movedReadings } from './moved-readings.ts';
import { drawSheet, type Panel } from './panels.ts';

/** More dots than this tell no more and make a page slow; then every second string, or third ..., is drawn, and what is wild. */
const mostDots = 3000;

/** What the fit expects of a string at a fret with the 12th exact: mean and the band of 95 % of instruments, in cents. */
interface Expected {
  readonly fret: number;
  readonly cents: number;
  readonly low: number;
  readonly high: number;
}

/**
 * Readings of a model by fret, string by string, each string's readings moved by the saddle so that its 12th is exact
 * (`cents - cents12 g(n)`), with the fitted curve and the band that holds 95 % of instruments.
 *
 * A string read without its 12th cannot be moved and is left out, which the description says.
 *
 * @throws {RangeError} when the trend has no such model; names those it has
 */
export function plotReadings(trend: Trend, model: string): ShownFigure {
  const found = trend.models.find((one) => one.model === model);
  if (!found)
    throw new RangeError(
      `Cannot plot readings of "${model}"; expected one of ${trend.models.map((one) => one.model).join(', ')}`,
    );
  const { blocks, withoutTwelfth } = movedReadings(trend.sums, found);
  const frets = blocks.flat().reduce((most, { fret }) => Math.max(most, fret), 17);
  const curves = forecastModel(found, trend).map((forecast) => ({
    string: forecast.string,
    expected: expectedErrors(forecast, frets),
  }));
  const limits = frame(
    curves.flatMap(({ expected }) => expected),
    trend.spread.reading,
  );
  const isBeyond = ({ cents }: MovedReading): boolean => cents < limits.low || cents > limits.high;
  const dots = blocks.reduce((sum, own) => sum + own.length, 0);
  const step = Math.max(1, Math.ceil(dots / mostDots));
  const moved = blocks.flatMap((own, at) => (at % step === 0 ? own : own.filter(isBeyond)));
  const beyond = moved.filter(isBeyond);
  const strings = curves.map((curve) => ({ ...curve, dots: moved.filter(({ string }) => string === curve.string) }));
  const name = shorten(model, 30);
  const rises = strings.map(({ string, expected }) => ({ string, at17: expected[16]!.cents }));
  const steepest = rises.reduce((most, one) => (Math.abs(one.at17) > Math.abs(most.at17) ? one : most));
  const title = `Readings of ${name}, 12th exact: ${signed(steepest.at17)} cents at the 17th on string ${steepest.string}`;
  const description = [
    `Readings of ${model} by fret, one panel per string, each moved by the saddle so that its 12th fret is exact:`,
    `${counted(moved.length, 'dot')} from ${counted(found.instruments, 'instrument')}.`,
    `With the 12th exact the fitted curve reads at the 17th fret, in cents (the band of 95 % of instruments in brackets):`,
    `${strings.map(({ string, expected }) => `string ${string} ${signed(expected[16]!.cents)} (${signed(expected[16]!.low)} to ${signed(expected[16]!.high)})`).join(', ')}.`,
    ...(beyond.length > 0
      ? [
          `${counted(beyond.length, 'dot')} beyond the frame, drawn as a triangle at its edge; the farthest reads ${signed(farthest(beyond))} cents.`,
        ]
      : []),
    ...(step > 1 ? [`Of every ${step} strings read, one is drawn, and all that lies beyond the frame.`] : []),
    ...(withoutTwelfth > 0 ? [`${counted(withoutTwelfth, 'string')} read without a 12th not shown.`] : []),
  ].join(' ');
  const columns = Math.min(strings.length, strings.length === 4 ? 2 : 3);
  const svg = drawSheet({
    title,
    description,
    caption: `Dots: readings, the saddle moved so that each 12th is exact. Line: what the model does. Band: 95 % of its instruments, the scatter of a reading apart.${beyond.length > 0 ? ` Triangles: ${beyond.length} beyond the frame, as far as ${signed(farthest(beyond))}.` : ''}`,
    yLabel: '↑ cents, sharp is positive',
    xLabel: 'fret →',
    columns,
    panels: strings.map((one) => stringPanel(one, frets, limits)),
  });
  const data = strings.flatMap(({ string, expected, dots }) => [
    ...expected.map((one) => ({ kind: 'fitted', model, string, ...one })),
    ...dots.map((one) => ({ kind: 'reading', model, ...one })),
  ]);
  return shownFigure({ title, description, svg, data });
}

const farthest = (readings: readonly MovedReading[]): number =>
  readings.reduce((most, { cents }) => (Math.abs(cents) > Math.abs(most) ? cents : most), 0);

function expectedErrors(forecast: StringForecast, frets: number): Expected[] {
  return neckErrors(forecast, 0, frets).map(({ mean, sd }, at) => ({
    fret: at + 1,
    cents: mean,
    low: mean - 1.96 * sd,
    high: mean + 1.96 * sd,
  }));
}

interface Limits {
  readonly low: number;
  readonly high: number;
}

/**
 * Where the frame ends: twice as far from the curve as 95 % of single readings lie, so that one wild reading does not
 * flatten all others. A moved reading scatters by sd sqrt(1 + g^2), its own and the 12th's.
 */
function frame(expected: readonly Expected[], readingSd: number): Limits {
  const reach = expected.map(({ fret, cents, low, high }) => {
    const half = 2 * Math.hypot((high - low) / 2, 1.96 * readingSd * Math.hypot(1, saddleLeverage(fret)));
    return [cents - half, cents + half] as const;
  });
  return { low: Math.min(-1, ...reach.map(([low]) => low)), high: Math.max(1, ...reach.map(([, high]) => high)) };
}

interface StringData {
  readonly string: number;
  readonly expected: readonly Expected[];
  readonly dots: readonly MovedReading[];
}

function stringPanel({ string, expected, dots }: StringData, frets: number, limits: Limits): Panel {
  // Spread sideways by the golden ratio: even, and the same at every drawing.
  const placed = dots.map(({ fret, cents }, at) => ({ cents, x: fret + ((at * 0.618034) % 1) * 0.6 - 0.3 }));
  const inside = placed.filter(({ cents }) => cents >= limits.low && cents <= limits.high);
  const above = placed.filter(({ cents }) => cents > limits.high);
  const below = placed.filter(({ cents }) => cents < limits.low);
  const ticks = [1, 5, 12, 17, ...(frets > 19 ? [frets] : [])];
  return {
    height: 190,
    options: {
      marginLeft: 32,
      marginRight: 4,
      marginTop: 22,
      marginBottom: 22,
      x: { domain: [0.4, frets + 0.6] },
      y: { domain: [limits.low, limits.high] },
      marks: [
        axisX(ticks, { fontSize: 11, label: null, tickFormat: 'd', tickSize: 3 }),
        axisY({ fontSize: 11, label: null, ticks: 5, tickSize: 3, tickFormat: signedTick }),
        ruleY([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        ruleX([12, 17], { stroke: 'currentColor', strokeOpacity: 0.35, strokeDasharray: '2,3' }),
        areaY(expected, { x: 'fret', y1: 'low', y2: 'high', fill: inks.blue, fillOpacity: 0.3 }),
        dot(inside, { x: 'x', y: 'cents', r: 1.8, stroke: 'currentColor', strokeOpacity: 0.55, strokeWidth: 1 }),
        line(expected, { x: 'fret', y: 'cents', stroke: inks.blue, strokeWidth: 2.5 }),
        dot(above, { x: 'x', y: limits.high, dy: 4, r: 4, symbol: 'triangle', fill: inks.vermilion }),
        dot(below, { x: 'x', y: limits.low, dy: -4, r: 4, symbol: 'triangle', rotate: 180, fill: inks.vermilion }),
        text([`string ${string}: ${signed(expected[16]!.cents)} at the 17th`], {
          frameAnchor: 'top-left',
          dy: -18,
          fontSize: 12,
          fontWeight: 'bold',
        }),
      ],
    },
  };
}
