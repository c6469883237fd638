import { hzOfNote } from '../acoustics/pitch.ts';
import { csvRecords } from './csv-records.ts';

/** Which strings are stopped where, and what tuning that is meant for; both from string 1, the thinnest. */
export interface Shape {
  readonly shape: string;
  readonly tuningHz: readonly number[];
  /** null: not played. */
  readonly frets: readonly (number | null)[];
}

const columns = ['shape', 'tuning', 'frets'];

/**
 * Reads chord shapes: CSV with the columns `shape, tuning, frets`, such as `open C major,E4|B3|G3|D3|A2|E2,0|1|0|2|3|x`.
 *
 * @param file name for messages
 * @param a4Hz pitch standard that the notes of `tuning` are taken at
 * @throws {RangeError} naming file, line, column, what was found and what was expected
 */
export function readShapes(text: string, file: string, a4Hz = 440): Shape[] {
  const [header, ...records] = csvRecords(text, file, columns);
  const names = header?.record.map((name) => name.toLowerCase()) ?? [];
  if (columns.some((name) => !names.includes(name)))
    throw new RangeError(`${file}:1: found columns "${names.join(', ')}", expected ${columns.join(', ')}`);
  return records.map(({ record, info }) => {
    const cell = (name: string): string => record[names.indexOf(name)] ?? '';
    const refuse = (column: string, expected: string): never => {
      throw new RangeError(`${file}:${info.lines}, column "${column}": found "${cell(column)}", expected ${expected}`);
    };
    const tuningHz = pitches(cell('tuning'), a4Hz);
    if (!tuningHz) return refuse('tuning', 'open notes from string 1, such as E4|B3|G3|D3|A2|E2');
    const pieces = cell('frets')
      .split('|')
      .map((piece) => piece.trim());
    const frets = pieces.map((piece) => (piece === 'x' ? null : /^\d\d?$/.test(piece) ? Number(piece) : NaN));
    const played = frets.filter((fret) => fret !== null);
    if (frets.length !== tuningHz.length || played.length < 2 || !played.every((fret) => fret <= 36))
      return refuse(
        'frets',
        `${tuningHz.length} frets from 0 to 36 or x, of which two are played, such as 0|1|0|2|3|x`,
      );
    return { shape: cell('shape') || refuse('shape', 'a name'), tuningHz, frets };
  });
}

function pitches(text: string, a4Hz: number): number[] | null {
  try {
    return text.split('|').map((note) => hzOfNote(note, a4Hz));
  } catch (error) {
    if (error instanceof RangeError) return null;
    throw error;
  }
}
