import { Buffer } from 'node:buffer';
import type { ColumnTable } from 'arquero';
import { noReadings, toTable, type ReadingColumns } from './columns.ts';
import { adviceForEmpty, detectDialect } from './dialect.ts';
import { detectEncoding, linesToUtf8, utf16ToUtf8, type Encoding } from './encoding.ts';
import { findSuspicious, type Finding } from './findings.ts';
import { cellsOf, framer, type Frames } from './frame.ts';
import { LogError } from './log-error.ts';
import { noMapping, type Mapping } from './mapping.ts';
import type { ModelSpec } from './models.ts';
import { parseNumber } from './number.ts';
import { refuseBinary } from './binary.ts';
import type { Reject } from './reject.ts';
import { rowReader } from './rows.ts';

/** What a log is read with. */
export interface LogOptions {
  readonly models?: readonly ModelSpec[];
  readonly mapping?: Mapping;
}

/** Counts of one file; rows = readings + rejects, always. */
export interface FileCounts {
  readonly path: string;
  readonly rows: number;
  readonly readings: number;
  readonly rejects: number;
  /** Headers of columns that were not read, as the file spells them. */
  readonly ignored: readonly string[];
}

/** Everything that was read, and everything that was refused. */
export interface Log {
  readonly files: readonly FileCounts[];
  readonly totals: { readonly rows: number; readonly readings: number; readonly rejects: number };
  /**
   * One row a reading: instrument, model, string, fret, pass, cents (open string's error taken off), technician,
   * measuredAt, note, file, line (1-based, physical), and the covariates that some reading has (winding, saddleMm, scaleMm,
   * gaugeMm, actionMm, reliefMm, pickupMm, resolutionCents). Where nothing is given: null.
   */
  readonly readings: ColumnTable;
  readonly rejects: readonly Reject[];
  readonly findings: readonly Finding[];
  readonly models: readonly ModelSpec[];
}

/** Takes one file's bytes, in pieces cut anywhere. */
export interface FileReader {
  /** @throws {LogError} when the file is not a log */
  push(bytes: Uint8Array): void;
  /** @throws {LogError} when the file is not a log */
  end(): FileCounts;
}

/** Takes files one after another; nothing is held of a file but its readings and rejects. */
export interface LogReader {
  /** @param file name for messages and for the column `file` */
  open(file: string): FileReader;
  finish(): Log;
}

/** How much of a file is looked at before the first row is read. */
const sampleBytes = 1 << 18;

/**
 * Reads one log from memory.
 *
 * @param content the file's text, or its bytes in any encoding a shop writes
 * @param file    name for messages
 * @throws {LogError} when the text is not a log at all; a bad row is a reject, not an exception
 */
export function readLog(content: string | Uint8Array, file: string, options: LogOptions = {}): Log {
  const reader = logReader(options);
  const opened = reader.open(file);
  opened.push(typeof content === 'string' ? Buffer.from(content) : content);
  opened.end();
  return reader.finish();
}

/** Starts reading logs piece by piece: `open` each file, `push` its bytes, `end` it, and `finish` after the last. */
export function logReader({ models = [], mapping = noMapping }: LogOptions = {}): LogReader {
  const columns = noReadings();
  const rejects: Reject[] = [];
  const files: FileCounts[] = [];
  const assumed = new Map<string, Finding>();
  const specs = new Map(models.map((spec) => [spec.model, spec]));
  return {
    open: (file) =>
      fileReader(file, { mapping, specs, columns, rejects, assumed }, (counts) => {
        files.push(counts);
      }),
    finish() {
      const total = (of: (counts: FileCounts) => number): number => files.reduce((sum, each) => sum + of(each), 0);
      return {
        files,
        totals: { rows: total((f) => f.rows), readings: total((f) => f.readings), rejects: total((f) => f.rejects) },
        readings: toTable(columns),
        rejects,
        findings: [...assumed.values(), ...findSuspicious(columns, specs)],
        models,
      };
    },
  };
}

interface Shared {
  readonly mapping: Mapping;
  readonly specs: ReadonlyMap<string, ModelSpec>;
  readonly columns: ReadingColumns;
  readonly rejects: Reject[];
  readonly assumed: Map<string, Finding>;
}

function fileReader(file: string, shared: Shared, done: (counts: FileCounts) => void): FileReader {
  let held: Buffer[] = [];
  let heldBytes = 0;
  let lines: ((bytes: Buffer, last: boolean) => Buffer) | undefined;
  let rows: ReturnType<typeof rowsOf> | undefined;

  const take = (last: boolean): void => {
    const bytes = held.length === 1 ? held[0]! : Buffer.concat(held);
    held = [];
    heldBytes = 0;
    if (!lines) {
      if (bytes.length === 0) throw new LogError(file, 'the file is empty', adviceForEmpty);
      refuseBinary(bytes, file);
      const { encoding, markBytes } = detectEncoding(bytes);
      lines = wholeLines(encoding, !bytes.includes(0x0a) && bytes.includes(0x0d, 0) ? 0x0d : 0x0a);
      const text = lines(bytes.subarray(markBytes), last);
      rows = rowsOf(file, text, shared);
      rows.read(text.subarray(rows.from), last);
    } else rows!.read(lines(bytes, last), last);
  };
  return {
    push(bytes) {
      // The start is always the same number of bytes, so that where the pieces were cut cannot change what is read.
      let rest = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
      if (!lines) {
        const part = rest.subarray(0, sampleBytes - heldBytes);
        // The caller may use its buffer again.
        held.push(Buffer.from(part));
        heldBytes += part.length;
        if (heldBytes < sampleBytes) return;
        take(false);
        rest = rest.subarray(part.length);
      }
      if (rest.length === 0) return;
      held.push(rest);
      take(false);
    },
    end() {
      take(true);
      const counts = rows!.counts();
      done(counts);
      return counts;
    },
  };
}

/** Cuts bytes after their last line break, keeps the rest for the next call, and gives what is whole as UTF-8. */
function wholeLines(encoding: Encoding, lineBreak: number): (bytes: Buffer, last: boolean) => Buffer {
  let carry: Buffer = Buffer.alloc(0);
  const width = encoding === 'lines' ? 1 : 2;
  const cut = (bytes: Buffer): number => {
    if (encoding === 'lines') return bytes.lastIndexOf(lineBreak) + 1;
    const low = encoding === 'utf-16le' ? 0 : 1;
    for (let at = bytes.length - (bytes.length % 2) - 2; at >= 0; at -= width)
      if (bytes[at + low] === lineBreak && bytes[at + 1 - low] === 0) return at + width;
    return 0;
  };
  return (chunk, last) => {
    const bytes = carry.length > 0 ? Buffer.concat([carry, chunk]) : chunk;
    const end = last ? bytes.length : cut(bytes);
    carry = Buffer.from(bytes.subarray(end));
    const whole = bytes.subarray(0, end);
    return encoding === 'lines' ? linesToUtf8(whole) : utf16ToUtf8(whole, encoding);
  };
}

/** Reads a file's rows, given the whole lines of its start. */
function rowsOf(file: string, start: Buffer, { mapping, specs, columns, rejects, assumed }: Shared) {
  const { framing, decimalMark, layout, rowsFrom, rowsLine } = detectDialect(start, mapping, file);
  const delimiter = String.fromCharCode(framing.delimiter);
  const mine: Reject[] = [];
  const before = columns.length;
  let rows = 0;
  const looksWhole = (cell: string | undefined): boolean => Number.isInteger(parseNumber(cell ?? '', decimalMark));
  const looksLikeRow = (line: string): boolean => {
    const cells = line.split(delimiter);
    const { string, fret } = layout.columns;
    return (
      cells.length === layout.headers.length &&
      looksWhole(cells[string!.index]) &&
      (!fret || looksWhole(cells[fret.index]))
    );
  };
  const frame = framer(framing, { fields: layout.headers.length, looksLikeRow, firstLine: rowsLine });
  const readRow = rowReader({
    layout,
    decimalMark,
    mapping,
    models: specs,
    columns,
    file,
    refuse: (line, { column, found, rule }, text) => mine.push({ file, line, column, found, rule, text }),
    assume(model, line, instrument) {
      const message = `model "${model}" has no tuning in models.csv; its strings were taken to be tuned as most are`;
      if (!assumed.has(model))
        assumed.set(model, { kind: 'assumed-tuning', file, line, instrument, string: null, message });
    },
  });
  const readFrames = (frames: Frames): void => {
    const { lines, text, refused } = frames;
    for (const { field, ...refusal } of refused) mine.push({ file, column: layout.headers[field] ?? '', ...refusal });
    rows += refused.length;
    const records = cellsOf(frames, framing);
    for (let index = 0; index < records.length; index++)
      rows += readRow(records[index]!, lines[index]!, () => text(index));
  };
  return {
    from: rowsFrom,
    read: (bytes: Buffer, last: boolean): void => {
      readFrames(frame(bytes, last));
    },
    counts(): FileCounts {
      mine.sort((a, b) => a.line - b.line);
      for (const reject of mine) rejects.push(reject);
      const readings = columns.length - before;
      return { path: file, rows, readings, rejects: mine.length, ignored: layout.ignored };
    },
  };
}
