import type { Buffer } from 'node:buffer';
import { detectEncoding } from './encoding.ts';
import { LogError } from './log-error.ts';

/** First bytes of files that people take for logs (from memory). */
const signatures: readonly (readonly [bytes: string, what: string])[] = [
  ['PK\u0003\u0004', 'a spreadsheet workbook or a zip archive'],
  ['\u00d0\u00cf\u0011\u00e0', 'a spreadsheet workbook'],
  ['%PDF-', 'a PDF'],
  ['\u0089PNG', 'a picture'],
  ['\u00ff\u00d8\u00ff', 'a picture'],
  ['\u001f\u008b', 'a compressed file'],
];

/**
 * Refuses bytes that are not text. A stray control character in a row is a reject of that row; here the file itself is
 * something else: it starts like another format, its first line holds a zero byte, or control characters abound.
 *
 * @throws {LogError} naming what the file seems to be
 */
export function refuseBinary(start: Buffer, file: string): void {
  const head = start.toString('latin1', 0, 16);
  const known = signatures.find(([bytes]) => head.startsWith(bytes))?.[1];
  const advice = 'Save it as CSV (text) and give that file';
  if (known !== undefined) throw new LogError(file, `not a log but ${known}`, advice);
  if (detectEncoding(start).encoding !== 'lines') return;
  const sample = start.subarray(0, 1 << 16);
  let controls = 0;
  for (const byte of sample) if (byte < 0x20 && (byte < 0x09 || byte > 0x0d) && byte !== 0x1b) controls++;
  const lineEnd = sample.indexOf(0x0a);
  const firstLine = sample.subarray(0, lineEnd < 0 ? sample.length : lineEnd);
  if (firstLine.includes(0) || controls > sample.length / 10)
    throw new LogError(file, 'not a text file (it holds zero bytes or control characters)', advice);
}
