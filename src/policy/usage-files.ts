import { extname } from 'node:path';
import { isArchive, scoreText } from './musicxml-file.ts';
import { readTablature, type SkippedNotes } from './musicxml.ts';
import { readUsage, requireFretted, type Usage } from './usage.ts';

/** How often each string is played where, as one file says it. */
export interface Playing {
  readonly file: string;
  /** Quarter notes from a score, counts from a CSV file. */
  readonly unit: 'quarter notes' | 'counts';
  readonly usage: Usage;
  /** Notes of a score (rests aside): `notes = counted + skipped`. For a CSV file 0: it has rows, not notes. */
  readonly notes: number;
  readonly counted: number;
  readonly skipped: readonly SkippedNotes[];
  /** Sentences on what the counts contain and what they leave out. */
  readonly remarks: readonly string[];
}

const scoreNames = new Set(['.musicxml', '.mxl', '.xml']);

/**
 * Reads a usage profile (CSV with string, fret, count) or counts the tablature of a MusicXML score, plain or compressed.
 * Which one it is, is told by the bytes.
 *
 * @param file name for messages
 * @param part id or name of the one part of a score to count; without it all parts that have tablature
 * @throws {RangeError} where it is neither, or holds nothing to count; the message says what to do
 */
export function readPlaying(bytes: Uint8Array, file: string, part?: string): Playing {
  const found = formatOf(bytes);
  if (found === 'other' && scoreNames.has(extname(file).toLowerCase()))
    throw new RangeError(
      `${file}: ${bytes.length === 0 ? 'an empty file' : 'neither XML nor a zip archive'}, expected a MusicXML score. ` +
        'Export it again; a profile with string, fret, count is named *.csv',
    );
  if (found === 'other') {
    if (part !== undefined)
      throw new RangeError(`${file}: found part "${part}" asked of a CSV file, expected a score. Leave the part out`);
    return { file, unit: 'counts', usage: readUsage(bytes, file), notes: 0, counted: 0, skipped: [], remarks: [] };
  }
  const { text, name } = scoreText(bytes, file);
  const { usage, notes, counted, skipped, remarks } = readTablature(text, name, part);
  requireFretted(usage, name);
  return { file, unit: 'quarter notes', usage, notes, counted, skipped, remarks };
}

/** What bytes begin as; byte order marks and the zeros of UTF-16 are passed over. */
function formatOf(bytes: Uint8Array): 'archive' | 'xml' | 'other' {
  if (isArchive(bytes)) return 'archive';
  const first = bytes.find((byte) => byte > 0x20 && ![0xef, 0xbb, 0xbf, 0xfe, 0xff].includes(byte));
  return first === 0x3c ? 'xml' : 'other';
}
