import { signed } from '../acoustics/signed.ts';
import { areaY, axisX, axisY, dot, line, ruleY, text } from '@observablehq/plot';
import { extent } from 'd3-array';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten, signedTick } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** One line of notes along the neck, such as a placement, a setup or one cause. */
export interface FretCurve {
  readonly name: string;
  /** Error in cents by fret, in the order of the frets; at least one. */
  readonly notes: readonly { readonly fret: number; readonly cents: number }[];
}

/**
 * Cents along the neck, a panel a curve on one scale, with a band of what is too small to hear.
 *
 * @param curves at least one
 * @param options `of` names what they belong to, for the title; `audibleCents` is half the band's height
 * @throws {RangeError} for no curves or a curve without notes
 */
export function plotFretCents(
  curves: readonly FretCurve[],
  { of, audibleCents }: { readonly of: string; readonly audibleCents: number },
): ShownFigure {
  if (curves.length === 0) throw new RangeError('Cannot plot no curve; expected at least one');
  for (const { name, notes } of curves)
    if (notes.length === 0)
      throw new RangeError(`Cannot plot the curve "${name}" without notes; expected at least one`);
  const summed = curves.map((curve) => ({ ...curve, worst: worstOf(curve), rms: rmsOf(curve) }));
  const [best, worst] = [
    summed.reduce((a, b) => (b.rms < a.rms ? b : a)),
    summed.reduce((a, b) => (b.rms > a.rms ? b : a)),
  ];
  const title =
    best === worst
      ? `${shorten(of, 40)}: ${shorten(best.name, 40)}, RMS ${best.rms.toFixed(1)} cents`
      : `${shorten(of, 40)}: from RMS ${best.rms.toFixed(1)} cents (${shorten(best.name, 30)}) to ${worst.rms.toFixed(1)} (${shorten(worst.name, 30)})`;
  const description = [
    `Cents by fret of ${counted(curves.length, 'curve')} for ${of}.`,
    ...summed.map(
      ({ name, notes, rms, worst: { fret, cents } }) =>
        `${name}: RMS ${rms.toFixed(2)}, largest ${signed(cents)} at fret ${fret}; ${notes.map((note) => `fret ${note.fret} ${signed(note.cents)}`).join(', ')}.`,
    ),
  ].join(' ');
  const all = curves.flatMap(({ notes }) => notes);
  const [low, high] = extent([-audibleCents, audibleCents, ...all.map(({ cents }) => cents)]) as [number, number];
  const margin = 0.06 * (high - low);
  const columns = Math.min(2, curves.length);
  const frame = {
    frets: extent(all.map(({ fret }) => fret)) as [number, number],
    low: low - margin,
    high: high + margin,
    audibleCents,
    width: panelWidth(columns),
  };
  const svg = drawSheet({
    title,
    description,
    caption: `Error of each fret with the open string in tune. Band: ±${audibleCents} cents. RMS: root mean square over the frets shown.`,
    yLabel: '↑ cents, sharp is positive',
    xLabel: 'fret →',
    columns,
    panels: summed.map((curve) => curvePanel(curve, frame)),
  });
  const data = curves.flatMap(({ name, notes }) => notes.map(({ fret, cents }) => ({ of, name, fret, cents })));
  return shownFigure({ title, description, svg, data });
}

function worstOf({ notes }: FretCurve): FretCurve['notes'][number] {
  return notes.reduce((most, note) => (Math.abs(note.cents) > Math.abs(most.cents) ? note : most));
}

function rmsOf({ notes }: FretCurve): number {
  return Math.sqrt(notes.reduce((sum, { cents }) => sum + cents ** 2, 0) / notes.length);
}

interface Frame {
  readonly frets: readonly [number, number];
  readonly low: number;
  readonly high: number;
  readonly audibleCents: number;
  readonly width: number;
}

function curvePanel(
  { name, notes, rms }: FretCurve & { readonly rms: number },
  { frets: [first, last], low, high, audibleCents, width }: Frame,
): Panel {
  const words = `: RMS ${rms.toFixed(1)}`;
  const heading = `${shorten(name, charactersIn(width - 8, 12) - words.length)}${words}`;
  const ticks = [1, 5, 12, 17, last].filter(
    (fret, at, every) => fret >= first && fret <= last && every.indexOf(fret) === at,
  );
  return {
    height: 170,
    options: {
      marginLeft: 34,
      marginRight: 8,
      marginTop: 24,
      marginBottom: 22,
      x: { domain: [first - 0.5, last + 0.5] },
      y: { domain: [low, high] },
      marks: [
        areaY([first - 0.5, last + 0.5], {
          x: (fret: number) => fret,
          y1: -audibleCents,
          y2: audibleCents,
          fill: 'currentColor',
          fillOpacity: 0.08,
        }),
        axisX(ticks, { fontSize: 11, label: null, tickFormat: 'd', tickSize: 3 }),
        axisY({ fontSize: 11, label: null, ticks: 5, tickSize: 3, tickFormat: signedTick }),
        ruleY([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
        line(notes, { x: 'fret', y: 'cents', stroke: inks.blue, strokeWidth: 1.5 }),
        dot(notes, { x: 'fret', y: 'cents', r: 2.5, fill: inks.blue }),
        text([heading], {
          frameAnchor: 'top-left',
          dx: -28,
          dy: -18,
          fontSize: 12,
          fontWeight: 'bold',
        }),
      ],
    },
  };
}
