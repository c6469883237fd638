import { SaxesParser } from 'saxes';
import { oneLine } from './plain-text.ts';

/** A note or rest of a score, as its `<note>` element says it. */
export interface ScoreNote {
  readonly part: string;
  /** The measure's number as printed; some are no numbers (`X1`). */
  readonly measure: string;
  /** 1-based place among the notes of its part in its measure, rests not counted; 0 for a rest. */
  readonly place: number;
  /** 1-based line of the XML text. */
  readonly line: number;
  /** Divisions of a quarter note in force; undefined where none were given yet. */
  readonly divisions: number | undefined;
  /**
   * Texts of the elements inside, by path: `pitch/step`, `notations/technical/fret`. An element without text gives ''.
   * A tie is told by its type: `tie start`, `tie stop`.
   */
  readonly elements: ReadonlyMap<string, readonly string[]>;
}

/** What a score says beside its notes. */
export interface ScoreHeader {
  /** Names of the parts by their id, in the order of the part list; an id where there is no name. */
  readonly parts: ReadonlyMap<string, string>;
  /** Places where playing goes back or on elsewhere: backward repeats, da capo, dal segno. */
  readonly jumps: number;
  /** Fret of the capo by the id of the part, where there is one. */
  readonly capos: ReadonlyMap<string, number>;
}

/**
 * Reads a MusicXML score, partwise or timewise, and hands out its notes in the order they are written.
 * A DOCTYPE is passed over and nothing is fetched; entities that it declares are refused, so none can grow.
 *
 * @param file name for messages
 * @param take is given each `<note>` as it is closed
 * @throws {RangeError} where the text is not well-formed XML, not a MusicXML score, or has divisions that are no number
 *         above 0; the message names the line
 * @see MusicXML 4.0 (W3C Community Group Final Report, 2021), elements score-partwise, score-timewise, note, divisions
 */
export function readScore(text: string, file: string, take: (note: ScoreNote) => void): ScoreHeader {
  const parser = new SaxesParser({ position: true, xmlns: false });
  const parts = new Map<string, string>();
  const capos = new Map<string, number>();
  const divisions = new Map<string, number>();
  const path: string[] = [];
  const texts: string[] = [];
  let [part, measure, listed] = ['', '', ''];
  let [places, jumps] = [0, 0];
  let note: { readonly line: number; readonly depth: number; readonly elements: Map<string, string[]> } | undefined;

  parser.on('error', (error) => {
    // The parser's message begins with its own line and column.
    const what = error.message.replace(/^[\d:]+ /, '').replace(/\.$/, '');
    throw new RangeError(
      `${file}:${parser.line}: not well-formed XML (${what}); expected a whole MusicXML score. ` +
        'Export it again from the program it was written in',
    );
  });
  parser.on('opentag', ({ name, attributes }) => {
    if (path.length === 0) requireScore(name, `${file}:${parser.line}`);
    path.push(name);
    texts.push('');
    if (note) return;
    if (name === 'part' || name === 'measure') {
      places = 0;
      if (name === 'part') part = attributes.id ?? '';
      else measure = shown(attributes.number ?? '');
    } else if (name === 'note') note = { line: parser.line, depth: path.length, elements: new Map() };
    else if (name === 'score-part') parts.set((listed = attributes.id ?? ''), listed);
    else if (name === 'repeat' && attributes.direction === 'backward') jumps++;
    else if (name === 'sound' && (attributes.dacapo ?? attributes.dalsegno) !== undefined) jumps++;
  });
  const addText = (added: string): void => {
    if (texts.length > 0) texts[texts.length - 1]! += added;
  };
  parser.on('text', addText);
  parser.on('cdata', addText);
  parser.on('closetag', ({ name, attributes }) => {
    const found = texts.pop()!.trim();
    path.pop();
    if (note && path.length >= note.depth) {
      const inside = [...path.slice(note.depth), name].join('/');
      const key = inside === 'tie' ? `tie ${attributes.type ?? ''}` : inside;
      const known = note.elements.get(key);
      if (known) known.push(found);
      else note.elements.set(key, [found]);
    } else if (note) {
      const place = note.elements.has('rest') ? 0 : ++places;
      take({ part, measure, place, line: note.line, divisions: divisions.get(part), elements: note.elements });
      note = undefined;
    } else if (name === 'divisions') {
      if (!(decimal(found) > 0))
        throw new RangeError(
          `${file}:${parser.line}, part ${shown(part)}, measure ${measure}: found "${shown(found)}" divisions of a quarter note, ` +
            'expected a number above 0. Export the score again, or mend this line',
        );
      divisions.set(part, decimal(found));
    } else if (name === 'part-name' && found !== '') parts.set(listed, shown(found));
    else if (name === 'capo' && /^[1-9]\d*$/.test(found)) capos.set(part, Number(found));
  });
  parser.write(text).close();
  return { parts, jumps, capos };
}

function requireScore(root: string, place: string): void {
  if (root === 'score-partwise' || root === 'score-timewise') return;
  const advice = root === 'opus' ? '. An opus only lists scores: give these' : '. Export the score as MusicXML';
  throw new RangeError(
    `${place}: found <${shown(root)}>, expected a MusicXML score, which begins with <score-partwise> or <score-timewise>${advice}`,
  );
}

/** Text of a score as a message can hold it: on one line, and not at any length. */
export function shown(text: string): string {
  const line = oneLine(text);
  return line.length > 60 ? `${line.slice(0, 60)}…` : line;
}

/** A number as XML Schema writes decimals (no exponent, no digit groups), else NaN. */
export function decimal(text: string): number {
  return /^[+-]?(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN;
}
