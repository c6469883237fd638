import { hzOfNote } from '../acoustics/pitch.ts';
import { parseNumber } from './number.ts';
import { readSmallTable } from './small-table.ts';

/** What models.csv says about one model. */
export interface ModelSpec {
  readonly model: string;
  readonly scaleMm: number;
  readonly strings: number;
  readonly frets: number;
  /** Which strings share one saddle piece, from string 1: `[[1, 2], [3, 4]]` are two pairs. */
  readonly saddles: readonly (readonly number[])[];
  /** Travel of a saddle for one turn of its screw; null where it has none. */
  readonly mmPerTurn: number | null;
  /** How far a saddle can go in all; null where it cannot or nobody said. */
  readonly travelMm: number | null;
  /** Fret placement; `equal` where nobody said. */
  readonly placement: string;
  /** Nominal pitch of the open strings from string 1, in hertz. */
  readonly tuningHz?: readonly number[];
}

/** Models read, and one sentence with file, line, column, found and expected for every cell that is wrong. */
export interface Models {
  readonly models: readonly ModelSpec[];
  readonly problems: readonly string[];
}

const required = ['model', 'scale_mm', 'strings', 'frets', 'saddles'];

/**
 * Reads models.csv; comma, semicolon or tab separated.
 *
 * @param text the file's text
 * @param file name for messages
 * @param a4Hz pitch standard that note names in `tuning` are taken at
 */
export function readModels(text: string, file: string, a4Hz = 440): Models {
  const table = readSmallTable(text, file);
  const models: ModelSpec[] = [];
  const problems = [...table.problems];
  for (const name of required)
    if (!table.columns.includes(name))
      problems.push(`${file}: found no column "${name}", expected ${required.join(', ')}`);
  if (problems.length > 0) return { models, problems };
  for (const { line, cell } of table.rows) {
    const before = problems.length;
    const complain = (column: string, wanted: string): void => {
      problems.push(`${file}:${line}, column "${column}": found "${cell(column)}", expected ${wanted}`);
    };
    const number = (column: string, { whole = false, most = Infinity } = {}): number => {
      const value = parseNumber(cell(column), 'either');
      if (!(value > 0) || value > most || (whole && !Number.isInteger(value)))
        complain(column, `a ${whole ? 'whole ' : ''}number above 0${most < Infinity ? ` and up to ${most}` : ''}`);
      return value;
    };
    const optional = (column: string): number | null => (cell(column) === '' ? null : number(column));

    if (cell('model') === '') complain('model', 'a name');
    if (models.some(({ model }) => model === cell('model'))) complain('model', 'each model once');
    const strings = number('strings', { whole: true, most: 12 });
    const saddles = parseSaddles(cell('saddles'), strings);
    if (!saddles) complain('saddles', `each string once, such as 1|2|3|4|5|6, 12|34|56 or 123456`);
    const tuningHz = cell('tuning') === '' ? undefined : parseTuning(cell('tuning'), strings, a4Hz);
    if (tuningHz === null) complain('tuning', 'one note for each string from string 1, such as E4|B3|G3|D3|A2|E2');
    const spec = {
      model: cell('model').normalize(),
      scaleMm: number('scale_mm'),
      strings,
      frets: number('frets', { whole: true, most: 36 }),
      saddles: saddles ?? [],
      mmPerTurn: optional('mm_per_turn'),
      travelMm: optional('travel_mm'),
      placement: cell('placement') || 'equal',
      ...(tuningHz ? { tuningHz } : {}),
    };
    if (problems.length === before) models.push(spec);
  }
  return { models, problems };
}

/** `12|34|56` as groups of strings; null unless every string from 1 to `strings` comes exactly once. */
function parseSaddles(text: string, strings: number): number[][] | null {
  const pieces = text.split('|').map((piece) => piece.trim());
  // With ten strings or more a piece is one number, or numbers joined by +.
  const split =
    strings > 9 ? (piece: string) => piece.split('+') : (piece: string) => piece.replaceAll('+', '').split('');
  const groups = pieces.map((piece) => split(piece).map(Number));
  const all = groups.flat().sort((a, b) => a - b);
  return all.length === strings && all.every((string, index) => string === index + 1) ? groups : null;
}

function parseTuning(text: string, strings: number, a4Hz: number): number[] | null {
  const notes = text.split('|');
  if (notes.length !== strings) return null;
  try {
    return notes.map((note) => hzOfNote(note, a4Hz));
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
