import { signed } from '../acoustics/signed.ts';
import { escape } from 'html-escaper';
import type { ChordCheck, IntervalCheck, ShapeCheck } from '../policy/chord-check.ts';
import { fitted, wrapped } from '../policy/plain-text.ts';
import { mimeSymbol } from './figure.ts';
import { counted } from './label.ts';

/** A chord check that a notebook shows as a table, and as plain text where only text can be shown. */
export interface ChordTable {
  [mimeSymbol](): { readonly 'text/html': string; readonly 'text/plain': string };
}

const sides = ['before', 'after'] as const;
type Side = (typeof sides)[number];

/** Shapes that are named where they are left out for one reason. */
const mostNamed = 6;

/**
 * A chord check as a table, one row a shape: the interval that errs most before and after, by how many cents, and how fast it
 * beats, beside the beats it has in equal temperament.
 */
export function chordTable(check: ChordCheck): ChordTable {
  const table = [
    `<table><caption>${escape(captionOf(check))}</caption>`,
    `<thead><tr><th scope="col" rowspan="2">Shape</th><th scope="col" rowspan="2">Frets, string 1 first</th>`,
    ...sides.map((side) => `<th scope="colgroup" colspan="3">${sideName(check, side)}</th>`),
    `</tr><tr>${sides.map(() => '<th scope="col">Strings</th><th scope="col">Cents</th><th scope="col">Beats, Hz</th>').join('')}</tr></thead>`,
    `<tbody>${check.shapes.map(htmlRow).join('')}</tbody></table>`,
  ];
  const html = [
    ...(check.shapes.length > 0 ? table : []),
    ...unfitSentences(check).map((sentence) => `<p>${escape(sentence)}</p>`),
  ].join('');
  return { [mimeSymbol]: () => ({ 'text/html': html, 'text/plain': plainText(check) }) };
}

function sideName({ before }: ChordCheck, side: Side): string {
  if (side === 'after') return 'By the standard';
  return before === '12th exact' ? '12th exact' : 'As received';
}

function captionOf({ model, instrument, tuning }: ChordCheck): string {
  return [
    `Chords on ${instrument === null ? `the next ${model}` : `instrument ${instrument}, a ${model}`}:`,
    'of each shape the two strings whose interval errs most against equal temperament, in cents (positive is too wide), and',
    'the beats a second of its nearest coinciding partials, in brackets those it has in equal temperament.',
    ...(tuning === 'assumed' ? ['The usual tuning is assumed; models.csv does not give one.'] : []),
  ].join(' ');
}

function cellsOf(interval: IntervalCheck, side: Side): [string, string, string] {
  const { lower, upper, cents, beats } = interval;
  return [
    `${lower.string} and ${upper.string}`,
    signed(cents[side]),
    beats ? `${beats[side].toFixed(1)} (${beats.equalTemperament.toFixed(1)})` : 'none',
  ];
}

function fretsText({ frets }: ShapeCheck): string {
  return frets.map((fret) => fret ?? 'x').join(' ');
}

function htmlRow(check: ShapeCheck): string {
  const cells = sides.flatMap((side) => cellsOf(check.worst[side], side));
  return `<tr><th scope="row">${escape(check.shape)}</th><td class="number">${fretsText(check)}</td>${cells.map((cell) => `<td class="number">${cell}</td>`).join('')}</tr>`;
}

/** One sentence for each reason why shapes do not fit, the shapes named. */
function unfitSentences({ unfit }: ChordCheck): string[] {
  const reasons = [...new Set(unfit.map(({ reason }) => reason))];
  return reasons.map((reason) => {
    const shapes = unfit.filter((one) => one.reason === reason).map(({ shape }) => shape);
    const named = shapes.length > mostNamed ? [...shapes.slice(0, mostNamed - 1), '...'] : shapes;
    return `Left out, since ${reason}: ${counted(shapes.length, 'shape')} (${named.join('; ')}).`;
  });
}

/** The table in at most 80 columns. */
function plainText(check: ChordCheck): string {
  const line = (shape: string, cells: readonly string[]): string =>
    [fitted(shape, 26), ...cells.map((cell, at) => cell.padStart([8, 6, 13][at % 3]!))].join('').trimEnd();
  const head = ['strings', 'cents', 'beats'];
  const table = [
    wrapped(captionOf(check), 80),
    '',
    `${' '.repeat(26)}${sides.map((side) => sideName(check, side).padStart(27)).join('')}`,
    line('shape', [...head, ...head]),
    '-'.repeat(80),
    ...check.shapes.map((one) =>
      line(
        one.shape,
        sides.flatMap((side) => cellsOf(one.worst[side], side).map((cell) => cell.replace(' and ', '-'))),
      ),
    ),
  ];
  return [
    ...(check.shapes.length > 0 ? table : []),
    ...unfitSentences(check).map((sentence) => wrapped(sentence, 80)),
    '',
  ].join('\n');
}
