import { Buffer } from 'node:buffer';
import { open, readFile, realpath, type FileHandle } from 'node:fs/promises';
import {
  formatOf,
  type AppendNeeds,
  type LogFormat,
  logEnd,
  type LoggedReading,
  loggedReadings,
  newFormat,
  readLine,
  type RowCells,
  rowLine,
} from '../logs/append-log.ts';
import { linesToUtf8 } from '../logs/encoding.ts';
import { LogError } from '../logs/log-error.ts';
import type { ModelSpec } from '../logs/models.ts';
import { readLog } from '../logs/read-log.ts';
import type { Reject } from '../logs/reject.ts';
import { lockFile } from './lock-file.ts';
import { writeError, writeFile } from './write-file.ts';

/** How a log is opened for appending. */
export interface AppendOptions extends AppendNeeds {
  /** The file as messages name it. */
  readonly shown: string;
  /** What models.csv says: a row that import would refuse by it is not written. */
  readonly models: readonly ModelSpec[];
  /** Told in a sentence of what was mended or found changed in the file. */
  readonly tell: (sentence: string) => void;
}

/** A log open for appending, which no other process appends to meanwhile. Its readings stand in the order of the file. */
export interface AppendedLog {
  readonly format: () => LogFormat;
  readonly readings: () => readonly LoggedReading[];
  /** Rows that were refused when the file was last read. */
  readonly rejects: () => number;
  /** What a row would be read as. Nothing is written. */
  readonly preview: (row: RowCells) => LoggedReading | Reject;
  /**
   * Writes one row: a single write of a whole line, then to the disk itself (fsync). A write cut short is taken back.
   *
   * @throws {Error} when it could not be written; the log is as it was
   */
  readonly append: (row: RowCells) => Promise<LoggedReading>;
  /** The log's last row; null where it is no reading. */
  readonly last: () => Promise<LastRow | null>;
  /**
   * Takes the last row off the log, after it was kept in `FILE.undone`: a crash in between leaves it in both.
   *
   * @param row as `last` gave it
   * @throws {Error} when it is the last row no more, or that could not be done; the log is as it was
   */
  readonly undo: (row: LastRow) => Promise<void>;
  readonly close: () => Promise<void>;
}

/** The last row of a log. */
export interface LastRow {
  readonly reading: LoggedReading;
  /** Whether it was appended since the log was opened. */
  readonly isOwn: boolean;
  /** Its line, and the byte that it starts at. */
  readonly line: string;
  readonly from: number;
}

/**
 * Opens a log to append readings to; one that does not exist gets its header with the first reading. A last line that a
 * crash or a full disk left without its end is mended first: completed where it is whole but for the line break, else moved to
 * `FILE.torn`.
 *
 * @throws {LogError} when the file is no log that rows of ours fit into
 * @throws {Error} when another process has it open so, or it cannot be written
 */
export async function openLog(path: string, options: AppendOptions): Promise<AppendedLog> {
  const target = await realpath(path).catch(() => path);
  const unlock = await lockFile(target, options.shown);
  try {
    return await lockedLog(target, unlock, options);
  } catch (error) {
    await unlock();
    throw error;
  }
}

interface Contents {
  readonly format: LogFormat;
  readonly readings: readonly LoggedReading[];
  readonly rejects: number;
  /** Bytes of the file; 0 where there is none yet, or nothing in it. */
  readonly size: number;
  /** Rows at its end that were appended since it was read. */
  readonly own: number;
}

async function lockedLog(path: string, unlock: () => Promise<void>, options: AppendOptions): Promise<AppendedLog> {
  const { shown, models, tell } = options;
  const about = { file: shown, models };
  let now = await readContents(path, options);
  // A log that cannot be written to is found out now, not at the first reading.
  if (now.size > 0)
    await (await open(path, 'r+').catch((error: unknown) => Promise.reject(writeError(shown, error)))).close();

  /** Reads anew what another program has written since. */
  const refresh = async (size: number): Promise<void> => {
    if (size === now.size) return;
    now = await readContents(path, options);
    tell(`${shown} was changed by another program; it was read again and holds ${now.readings.length} readings.`);
  };
  const opened = async <T>(work: (handle: FileHandle) => Promise<T>): Promise<T> => {
    const handle = await open(path, 'r+').catch((error: NodeJS.ErrnoException) => {
      if (error.code === 'ENOENT')
        throw new Error(`${shown}: the file is gone. Put it back, or end and begin another`, { cause: error });
      throw writeError(shown, error);
    });
    try {
      await refresh((await handle.stat()).size);
      return await work(handle);
    } finally {
      await handle.close();
    }
  };
  const lastRow = async (): Promise<LastRow | null> => {
    const bytes = await readFile(path);
    const breakBytes = bytes.at(-2) === 0x0d ? 2 : 1;
    const rows = bytes.subarray(0, Math.max(0, bytes.length - breakBytes));
    const from = rows.lastIndexOf(now.format.lineBreak.at(-1)!) + 1;
    const line = linesToUtf8(bytes.subarray(from)).toString('utf8');
    const reading = from === 0 ? undefined : readLine(now.format, line, about);
    return reading === undefined || 'rule' in reading ? null : { reading, isOwn: now.own > 0, line, from };
  };

  return {
    format: () => now.format,
    readings: () => now.readings,
    rejects: () => now.rejects,
    preview: (row) => readLine(now.format, rowLine(now.format, row), about),
    append: async (row) => {
      if (now.size === 0) {
        await writeFile(path, now.format.headerLine);
        now = { ...now, size: Buffer.byteLength(now.format.headerLine) };
      }
      return opened(async (handle) => {
        const line = rowLine(now.format, row);
        const reading = readLine(now.format, line, about);
        if ('rule' in reading) throw new RangeError(`${shown}: would not be read back: ${line.trim()}`);
        await writeWholeLine(handle, Buffer.from(line), now.size).catch((error: unknown) => {
          throw writeError(shown, error);
        });
        const readings = [...now.readings, reading];
        now = { ...now, readings, size: now.size + Buffer.byteLength(line), own: now.own + 1 };
        return reading;
      });
    },
    last: () => (now.size === 0 ? Promise.resolve(null) : opened(lastRow)),
    undo: (row) =>
      opened(async (handle) => {
        const last = await lastRow();
        if (last?.line !== row.line || last.from !== row.from)
          throw new Error(`${shown}: another program has written to it since; look at it first`);
        await keepAside(`${path}.undone`, `${shown}.undone`, { line: Buffer.from(row.line), format: now.format });
        try {
          await handle.truncate(row.from);
          await handle.sync();
        } catch (error) {
          throw writeError(shown, error);
        }
        now = { ...now, readings: now.readings.slice(0, -1), size: row.from, own: Math.max(0, now.own - 1) };
      }),
    close: unlock,
  };
}

/** One write and fsync. Where a disk is full a write may stop within the line: what it let through is cut off again. */
async function writeWholeLine(handle: FileHandle, line: Buffer, at: number): Promise<void> {
  try {
    for (let done = 0; done < line.length;) {
      // All of the line, but for a disk just full: then the rest is tried for the reason it fails with.
      const { bytesWritten } = await handle.write(line, done, line.length - done, at + done);
      done += bytesWritten;
    }
    await handle.sync();
  } catch (error) {
    await handle.truncate(at);
    throw error;
  }
}

/** Adds a line, under the log's header, to a file beside the log: not named .csv, so that no folder of logs is read with it. */
async function keepAside(
  path: string,
  shown: string,
  { line, format }: { readonly line: Buffer; readonly format: LogFormat },
): Promise<void> {
  try {
    const handle = await open(path, 'a');
    try {
      const { size } = await handle.stat();
      await handle.writeFile(size === 0 ? Buffer.concat([Buffer.from(format.headerLine), line]) : line);
      await handle.sync();
    } finally {
      await handle.close();
    }
  } catch (error) {
    throw writeError(shown, error);
  }
}

/** Reads the log whole, and mends its end. */
async function readContents(path: string, options: AppendOptions): Promise<Contents> {
  const { shown, models, reads } = options;
  const bytes = await readFile(path).catch((error: NodeJS.ErrnoException) => {
    if (error.code === 'ENOENT') return Buffer.alloc(0);
    if (error.code === 'EISDIR') throw new LogError(shown, 'a folder, not a file', 'Give the name of a file in it');
    throw error;
  });
  const separator = /\.tsv$/i.test(path) ? '\t' : ',';
  const isEmpty =
    bytes
      .toString('utf8')
      .replace(/^\ufeff/, '')
      .trim() === '';
  if (isEmpty) return { format: newFormat(reads, separator), readings: [], rejects: 0, size: 0, own: 0 };
  const format = formatOf(bytes, shown, options);
  const mended = await mendEnd(path, bytes, { format, options });
  const log = readLog(mended, shown, { models });
  return { format, readings: loggedReadings(log.readings), rejects: log.totals.rejects, size: mended.length, own: 0 };
}

/** @returns the file's bytes as they are after that */
async function mendEnd(
  path: string,
  bytes: Buffer,
  { format, options }: { readonly format: LogFormat; readonly options: AppendOptions },
): Promise<Buffer> {
  const { shown, models, tell } = options;
  const end = logEnd(bytes, format, { file: shown, models });
  if (end.kind === 'ended') return bytes;
  if (end.kind === 'torn')
    await keepAside(`${path}.torn`, `${shown}.torn`, {
      line: Buffer.concat([bytes.subarray(end.from), Buffer.from(format.lineBreak)]),
      format,
    });
  try {
    const handle = await open(path, 'r+');
    try {
      if (end.kind === 'torn') await handle.truncate(end.from);
      else await handle.write(Buffer.from(end.missing), 0, end.missing.length, bytes.length);
      await handle.sync();
    } finally {
      await handle.close();
    }
  } catch (error) {
    throw writeError(shown, error);
  }
  if (end.kind === 'torn') {
    tell(
      `The last row of ${shown} was cut off while it was written. It was moved to ${shown}.torn: "${shownRow(end.row)}"`,
    );
    return bytes.subarray(0, end.from);
  }
  tell(
    `The last row of ${shown} had no line break at its end; it got one. Look whether it is whole: "${shownRow(end.row)}"`,
  );
  return Buffer.concat([bytes, Buffer.from(end.missing)]);
}

/** A row for a message. */
function shownRow(row: string): string {
  return row.length > 200 ? `${row.slice(0, 199)}…` : row;
}
