import { signed } from '../acoustics/signed.ts';
import { axisX, dot, gridX, link, ruleX, text } from '@observablehq/plot';
import { quantileSorted } from 'd3-array';
import type { AsLeft } from '../policy/as-left.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, signedTick } from './label.ts';
import { drawSheet, type Panel } from './panels.ts';

/** More dots than this in a row tell no more; then every second string, or third ..., is drawn. */
const mostDots = 500;

/** Errors at one fret over all strings, in cents. */
interface Quantiles {
  readonly q05: number;
  readonly q25: number;
  readonly median: number;
  readonly q75: number;
  readonly q95: number;
}

interface Strip extends Quantiles {
  readonly name: string;
  /** Upper edge of the strip in strip heights: the two frets stand a little apart. */
  readonly top: number;
  readonly isLeft: boolean;
  readonly errors: readonly number[];
  /** Part of the strings, 0 to 1, whose error exceeds the audible threshold. */
  readonly audible: number;
}

const places = [
  { name: '12th, as received', field: 'received12', top: 0, isLeft: false },
  { name: '12th, as left', field: 'left12', top: 1, isLeft: true },
  { name: '17th, as received', field: 'received17', top: 2.3, isLeft: false },
  { name: '17th, as left', field: 'left17', top: 3.3, isLeft: true },
] as const;

/**
 * Errors at the 12th and the 17th as received, and as the standard is predicted to leave them: every string a dot, with
 * median, middle half and middle 90 %.
 *
 * @param audibleCents errors larger than this can be heard
 */
export function plotAsLeft(rows: readonly AsLeft[], audibleCents: number): ShownFigure {
  if (rows.length === 0) throw new RangeError('Cannot plot no strings as left; expected at least one');
  const strips = places.map(({ field, ...place }): Strip => {
    const errors = rows.map((row) => row[field]);
    return { ...place, errors, ...quantiles(errors), audible: audiblePart(errors, audibleCents) };
  });
  const [received12, left12, received17, left17] = strips.map(({ audible }) => percent(audible));
  const title = `Beyond ±${audibleCents} cents as left: ${left12} of strings at the 12th (as received ${received12}), ${left17} at the 17th (${received17})`;
  const description = [
    `Errors in cents of ${counted(rows.length, 'string')} at the 12th and 17th fret, as received and as the standard is predicted to leave them.`,
    ...strips.map(
      ({ name, median, q05, q95, audible }) =>
        `${name}: median ${signed(median)}, middle 90 % from ${signed(q05)} to ${signed(q95)}, ${percent(audible)} beyond ±${audibleCents} cents.`,
    ),
  ].join(' ');
  // The farthest twentieth does not set the frame.
  const reach = 1.3 * Math.max(audibleCents, ...strips.flatMap(({ q05, q95 }) => [-q05, q95]));
  const step = Math.ceil(rows.length / mostDots);
  const isBeyond = strips.some(({ errors }) => errors.some((error) => Math.abs(error) > reach));
  const svg = drawSheet({
    title,
    description,
    caption: `Tick: median; thick bar: middle half; thin: middle 90 %. Each dot: ${step > 1 ? `one string in ${step}` : 'a string'}${isBeyond ? ', a triangle at the edge where it lies beyond' : ''}. Dashed: audible beyond ±${audibleCents} cents; the part beyond it at the right. As left is predicted.`,
    xLabel: 'error in cents, sharp is positive →',
    columns: 1,
    panels: [stripPanel(strips, { reach, step, audibleCents })],
  });
  const data = rows.map((row) => ({ ...row }));
  return shownFigure({ title, description, svg, data });
}

const percent = (part: number): string => `${(100 * part).toFixed(part > 0 && part < 0.1 ? 1 : 0)}\u00a0%`;

function stripPanel(
  strips: readonly Strip[],
  { reach, step, audibleCents }: { readonly reach: number; readonly step: number; readonly audibleCents: number },
): Panel {
  const dots = strips.flatMap(({ errors, top }) =>
    errors
      .filter((_, at) => at % step === 0)
      // Spread upright by the golden ratio: even, and the same at every drawing.
      .map((cents, at) => ({ cents, y: top + 0.42 + ((at * 0.618034) % 1) * 0.5 })),
  );
  const bars = strips.map((strip) => ({ ...strip, y: strip.top + 0.2 }));
  const hueOf = ({ isLeft }: Strip): string => (isLeft ? inks.blue : inks.vermilion);
  const edge = { y: 'y', r: 3.5, symbol: 'triangle', fill: 'currentColor', fillOpacity: 0.7 } as const;
  return {
    height: 330,
    options: {
      marginLeft: 122,
      marginRight: 62,
      marginTop: 18,
      marginBottom: 26,
      x: { domain: [-reach, reach] },
      y: { type: 'linear', domain: [4.3, 0], axis: null },
      marks: [
        gridX({ ticks: 8, stroke: 'currentColor', strokeOpacity: 0.12 }),
        axisX({ fontSize: 11, label: null, ticks: 8, tickSize: 3, tickFormat: signedTick }),
        ruleX([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        ruleX([-audibleCents, audibleCents], { stroke: 'currentColor', strokeDasharray: '4,3' }),
        dot(
          dots.filter(({ cents }) => Math.abs(cents) <= reach),
          { x: 'cents', y: 'y', r: 1.5, fill: 'currentColor', fillOpacity: 0.4 },
        ),
        dot(
          dots.filter(({ cents }) => cents > reach),
          { ...edge, x: reach, dx: -3, rotate: 90 },
        ),
        dot(
          dots.filter(({ cents }) => cents < -reach),
          { ...edge, x: -reach, dx: 3, rotate: -90 },
        ),
        link(bars, { x1: 'q05', x2: 'q95', y1: 'y', y2: 'y', stroke: hueOf, strokeWidth: 2 }),
        link(bars, { x1: 'q25', x2: 'q75', y1: 'y', y2: 'y', stroke: hueOf, strokeWidth: 8 }),
        link(bars, {
          x1: 'median',
          x2: 'median',
          y1: ({ top }: Strip) => top + 0.04,
          y2: ({ top }: Strip) => top + 0.36,
          stroke: 'currentColor',
          strokeWidth: 2.5,
        }),
        text(strips, { y: middle, frameAnchor: 'left', textAnchor: 'end', dx: -10, fontSize: 12, text: 'name' }),
        text(strips, {
          y: middle,
          frameAnchor: 'right',
          textAnchor: 'end',
          dx: 54,
          fontSize: 12,
          fontWeight: 'bold',
          text: ({ audible }: Strip) => percent(audible),
        }),
        text(['audible'], { frameAnchor: 'top-right', textAnchor: 'end', dx: 54, dy: -14, fontSize: 11 }),
        text([-audibleCents, audibleCents], {
          x: (cents: number) => cents,
          frameAnchor: 'top',
          dy: -14,
          fontSize: 11,
          text: (cents: number) => signedTick(cents),
        }),
      ],
    },
  };
}

const middle = ({ top }: Strip): number => top + 0.45;

function quantiles(errors: readonly number[]): Quantiles {
  const sorted = [...errors].sort((a, b) => a - b);
  const at = (p: number): number => quantileSorted(sorted, p)!;
  return { q05: at(0.05), q25: at(0.25), median: at(0.5), q75: at(0.75), q95: at(0.95) };
}

function audiblePart(errors: readonly number[], audibleCents: number): number {
  return errors.filter((error) => Math.abs(error) > audibleCents).length / errors.length;
}
