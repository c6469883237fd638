import { signed } from '../acoustics/signed.ts';
import { axisX, axisY, cell, dot, ruleY, text } from '@observablehq/plot';
import type { NeckMap, NoteError } from '../policy/neck-map.ts';
import { shownFigure, type ShownFigure } from './figure.ts';
import { inks } from './inks.ts';
import { charactersIn, counted, shorten } from './label.ts';
import { drawSheet, type Panel, panelWidth } from './panels.ts';

/** More strings than this and the two necks stand one below the other. */
const mostAbreast = 8;
const rowHeight = 18;
/** Deepest shade, as the part of the ink: text on it keeps a contrast of 4.5 to 1 on light and on dark paper. */
const deepest = 0.5;

/** One note as it is drawn. */
interface Square extends NoteError {
  readonly string: number;
  readonly fret: number;
}

/**
 * A neck with the error of every note, before and after the saddles are set by the standard, seen as a player sees it in a
 * chord diagram: the nut on top, string 1 at the right.
 *
 * @param map such as `modelNeckMap` or `instrumentNeckMap` gives
 * @param audibleCents errors larger than this can be heard
 */
export function plotNeckMap(map: NeckMap, audibleCents: number): ShownFigure {
  const sides = (['before', 'after'] as const).map((side) => ({
    name: side === 'after' ? 'by the standard' : map.before === '12th exact' ? 'with the 12th exact' : 'as received',
    squares: map.strings.flatMap(({ string, [side]: notes }) =>
      notes.map((note, fret): Square => ({ string, fret, ...note })),
    ),
  }));
  const name =
    map.instrument === null ? shorten(map.model, 30) : `${shorten(map.instrument, 20)}, ${shorten(map.model, 24)}`;
  const fretted = map.strings.length * map.frets;
  const beyond = sides.map(({ squares }) => squares.filter(({ cents }) => Math.abs(cents) > audibleCents).length);
  const title = `Neck of ${name}: ${beyond[0]!} of ${counted(fretted, 'note')} beyond ±${audibleCents} cents ${sides[0]!.name}, ${beyond[1]!} ${sides[1]!.name}`;
  const hasRead = sides[0]!.squares.some(({ isRead }) => isRead);
  const nutWords = map.isNutKnown ? '' : ' Nut offsets are not known and count as 0: low frets may err by more.';
  const description = [
    `Error in cents at every string and fret, open string in tune, of ${map.instrument === null ? `the next ${map.model}` : `instrument ${map.instrument}, a ${map.model}`}.`,
    ...sides.map(
      ({ name: side, squares }) =>
        `Largest error ${side}: ${map.strings
          .map(({ string }) => {
            const most = squares
              .filter((one) => one.string === string)
              .reduce((a, b) => (Math.abs(b.cents) > Math.abs(a.cents) ? b : a));
            return `string ${string} ${signed(most.cents)} at fret ${most.fret} (95 % ${signed(most.low)} to ${signed(most.high)})`;
          })
          .join(', ')}.`,
    ),
    ...(map.unread.length > 0
      ? [`Not shown, since not read: ${map.unread.map((one) => `string ${one}`).join(', ')}.`]
      : []),
    ...(nutWords === '' ? [] : [nutWords.trim()]),
  ].join(' ');
  const columns = map.strings.length > mostAbreast ? 1 : 2;
  const scale = Math.max(1, 1.5 * audibleCents);
  const svg = drawSheet({
    title,
    description,
    caption: `Cents, sharp is positive; the larger the error, the deeper the shade. Solid frame: beyond ±${audibleCents} cents. Dashed frame: the 95 % range reaches beyond.${hasRead ? ' Dot: from a reading of this very note; the others are predicted from those.' : ' All predicted, for the next instrument of the model.'}${nutWords}`,
    yLabel: 'fret',
    xLabel: 'string',
    columns,
    panels: sides.map((side) => neckPanel(side, { map, audibleCents, scale, width: panelWidth(columns) })),
  });
  const data = map.strings.flatMap(({ string, before, after }) =>
    before.map((note, fret) => ({
      model: map.model,
      instrument: map.instrument,
      string,
      fret,
      read: note.isRead,
      before: note.cents,
      beforeLow: note.low,
      beforeHigh: note.high,
      after: after[fret]!.cents,
      afterLow: after[fret]!.low,
      afterHigh: after[fret]!.high,
    })),
  );
  return shownFigure({ title, description, svg, data });
}

interface PanelPlace {
  readonly map: NeckMap;
  readonly audibleCents: number;
  /** Error in cents from which on the shade is deepest. */
  readonly scale: number;
  readonly width: number;
}

function neckPanel(
  { name, squares }: { readonly name: string; readonly squares: readonly Square[] },
  { map, audibleCents, scale, width }: PanelPlace,
): Panel {
  const place = { x: 'string', y: 'fret' } as const;
  const isBeyond = ({ cents }: Square): boolean => Math.abs(cents) > audibleCents;
  const maybeBeyond = (one: Square): boolean => !isBeyond(one) && Math.max(-one.low, one.high) > audibleCents;
  const margin = { left: 28, right: 4 };
  const columnWidth = (width - margin.left - margin.right) / map.strings.length;
  const strings = map.strings.map(({ string }) => string).reverse();
  const frets = Array.from({ length: map.frets + 1 }, (_, fret) => fret);
  return {
    height: 24 + 22 + rowHeight * frets.length,
    options: {
      marginLeft: margin.left,
      marginRight: margin.right,
      marginTop: 24,
      marginBottom: 22,
      padding: 0,
      x: { type: 'band', domain: strings },
      y: { type: 'band', domain: frets },
      opacity: { type: 'identity' },
      marks: [
        axisX({ anchor: 'bottom', fontSize: 12, label: null, tickSize: 0 }),
        axisY(
          frets.filter((fret) => fret !== 12 && fret !== 17),
          { fontSize: 11, label: null, tickSize: 0 },
        ),
        axisY([12, 17], { fontSize: 12, fontWeight: 'bold', label: null, tickSize: 0 }),
        cell(squares, {
          ...place,
          inset: 0.5,
          fill: ({ cents }: Square) => (cents < 0 ? inks.blue : inks.vermilion),
          fillOpacity: ({ cents }: Square) => deepest * Math.min(1, Math.abs(cents) / scale),
        }),
        cell(squares.filter(maybeBeyond), {
          ...place,
          inset: 1.5,
          stroke: 'currentColor',
          strokeOpacity: 0.75,
          strokeDasharray: '2,2',
        }),
        cell(squares.filter(isBeyond), { ...place, inset: 1.5, stroke: 'currentColor', strokeWidth: 1.5 }),
        text(squares, {
          ...place,
          fontSize: columnWidth < 30 ? 9 : 11,
          text: ({ cents }: Square) => signed(cents),
        }),
        dot(
          squares.filter(({ isRead }) => isRead),
          { ...place, dx: 4.5 - columnWidth / 2, r: 1.4, fill: 'currentColor' },
        ),
        // The nut.
        ruleY([0], { dy: rowHeight / 2, stroke: 'currentColor', strokeWidth: 3 }),
        text([name], {
          frameAnchor: 'top-left',
          dy: -20,
          fontSize: 12,
          fontWeight: 'bold',
          text: (words: string) => shorten(words, charactersIn(width, 12)),
        }),
      ],
    },
  };
}
