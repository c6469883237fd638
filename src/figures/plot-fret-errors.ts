import { signed } from '../acoustics/signed.ts';
import { axisX, axisY, dot, ruleX, ruleY, text } from '@observablehq/plot';
import type { FretError, PlacementFit } from '../metrology/fit-placement.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { counted, shorten, signedTick } from './label.ts';
import { drawSheet } from './panels.ts';

/** A fret counts as off its place where its adjusted p is under this. */
const clearP = 0.05;
/** As many frets bear their cents; more would write over each other. */
const mostLabels = 6;

const readingSdWords: Record<PlacementFit['readingSdFrom'], string> = {
  given: 'as given',
  repeats: 'by repeats',
  'other frets': 'by the scatter of the other frets',
};

/**
 * How far each fret stands from where the fitted pattern has it, in mm with 95 % intervals; frets that reading error does not
 * explain are filled and bear their cents.
 *
 * @param name of the instrument or neck, for the title
 */
export function plotFretErrors(fit: PlacementFit, name: string): ShownFigure {
  const { frets } = fit;
  const off = frets.filter(isOff);
  const largest = frets.reduce((most, fret) => (Math.abs(fret.errorMm) > Math.abs(most.errorMm) ? fret : most));
  const labelled = [...off].sort((a, b) => Math.abs(b.errorMm) - Math.abs(a.errorMm)).slice(0, mostLabels);
  const finding = ({ fret, errorMm, cents }: FretError): string =>
    `fret ${fret} ${signed(errorMm, 2)} mm, ${signed(cents)} cents`;
  const title =
    off.length === 0
      ? `Frets of ${shorten(name, 24)}: all within reading error, at most ${Math.abs(largest.errorMm).toFixed(2)} mm`
      : `Frets of ${shorten(name, 24)}: ${counted(off.length, 'fret')} off (${finding(off.reduce((a, b) => (Math.abs(b.errorMm) > Math.abs(a.errorMm) ? b : a)))})`;
  const description = [
    `Distance of ${counted(frets.length, 'fret')} of ${name} from the fitted pattern in mm, toward the saddle positive, with 95 % intervals.`,
    `Scale length ${fit.scaleMm.estimate.toFixed(2)} mm (${fit.scaleMm.low.toFixed(2)} to ${fit.scaleMm.high.toFixed(2)}),`,
    `nut set back ${signed(fit.nutSetbackMm.estimate, 2)} mm (${signed(fit.nutSetbackMm.low, 2)} to ${signed(fit.nutSetbackMm.high, 2)}),`,
    `one reading errs by ${fit.readingSdMm.toFixed(3)} mm (${readingSdWords[fit.readingSdFrom]}).`,
    `${frets
      .map(
        (fret) =>
          `${finding(fret)} (${signed(fret.lowMm, 2)} to ${signed(fret.highMm, 2)} mm)${isOff(fret) ? ', off its place' : ''}`,
      )
      .join('; ')}.`,
  ].join(' ');
  const last = frets.at(-1)!.fret;
  const svg = drawSheet({
    title,
    description,
    caption: `Distance of each fret from the pattern that fits them all best. Lines: 95 % intervals of reading. Filled: a fret that reading error does not explain, the farthest with their cents.${off.length > frets.length / 2 ? ' Most are filled: they may have been laid out by another pattern.' : ''}`,
    yLabel: '↑ mm toward the saddle, sharp',
    xLabel: 'fret →',
    columns: 1,
    panels: [
      {
        height: 260,
        options: {
          marginLeft: 48,
          marginRight: 12,
          marginTop: 22,
          marginBottom: 24,
          x: { domain: [0.4, last + 0.6] },
          y: { insetTop: 20, insetBottom: 20 },
          marks: [
            axisX(
              frets.map(({ fret }) => fret),
              { fontSize: 11, label: null, tickFormat: 'd', tickSize: 3 },
            ),
            axisY({ fontSize: 11, label: null, ticks: 6, tickSize: 3, tickFormat: signedTick }),
            ruleY([0], { stroke: 'currentColor', strokeOpacity: 0.7 }),
            ruleX(frets, { x: 'fret', y1: 'lowMm', y2: 'highMm', stroke: inks.blue, strokeWidth: 2 }),
            dot(frets, { x: 'fret', y: 'errorMm', r: 3.5, stroke: inks.blue, strokeWidth: 1.5 }),
            dot(off, { x: 'fret', y: 'errorMm', r: 4.5, fill: inks.vermilion }),
            ...([1, -1] as const).map((side) =>
              text(
                labelled.filter(({ errorMm }) => errorMm * side > 0),
                {
                  x: 'fret',
                  y: side > 0 ? 'highMm' : 'lowMm',
                  dy: -10 * side,
                  fontSize: 12,
                  text: (fret: FretError) => signed(fret.cents),
                },
              ),
            ),
          ],
        },
      },
    ],
  });
  return shownFigure({
    title,
    description,
    svg,
    data: frets.map((fret) => ({ name, ...fret, offItsPlace: isOff(fret) })),
  });
}

function isOff({ adjustedP }: FretError): boolean {
  return adjustedP < clearP;
}
