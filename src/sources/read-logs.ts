import { createHash } from 'node:crypto';
import { createReadStream } from 'node:fs';
import { readdir, readFile } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { linesToUtf8 } from '../logs/encoding.ts';
import { LogError } from '../logs/log-error.ts';
import { noMapping, readMapping, type Mapping } from '../logs/mapping.ts';
import { readModels, type ModelSpec } from '../logs/models.ts';
import { logReader, type FileCounts, type Log } from '../logs/read-log.ts';
import { findLogs, isModelsFile, shownPath, type FoundLog } from './find-logs.ts';

/** How logs on disk are read. */
export interface ReadOptions {
  /** Path of a models file; without it models.csv beside each log is used. */
  readonly models?: string | undefined;
  /** Path of a mapping file. */
  readonly mapping?: string | undefined;
  /** Folder that relative paths start from. */
  readonly cwd?: string;
  /** Stops the reading. */
  readonly signal?: AbortSignal;
  /** Told how many bytes of which file have been read. */
  readonly progress?: (path: string, bytes: number) => void;
}

/** A file that went into the readings, with the SHA-256 of the bytes that were read, in hexadecimal. */
export interface InputFile {
  readonly path: string;
  readonly sha256: string;
}

/** Readings of all logs together, with the hash of every file that had a say in them. */
export interface Logs extends Log {
  readonly files: readonly (FileCounts & InputFile)[];
  /** Models files and the mapping file, where there are any. */
  readonly settings: readonly InputFile[];
}

/**
 * Reads logs from disk, a piece at a time.
 *
 * @param logs files, folders or globs, at least one
 * @throws {LogError} when a file cannot be read as a log; names the file and what to do
 */
export async function readLogs(logs: readonly string[], options: ReadOptions = {}): Promise<Logs> {
  if (logs.length === 0) throw new RangeError('Cannot read no logs; expected at least one file, folder or glob');
  const { cwd = process.cwd(), signal, progress } = options;
  const found = await findLogs(logs, cwd);
  const settings: InputFile[] = [];
  const mapping = await mappingOf(options, cwd, settings);
  const models = await modelsOf(found, options, { cwd, mapping, settings });
  const reader = logReader({ models, mapping });
  const hashes = new Map<string, string>();
  for (const { path, absolute } of found) {
    const file = reader.open(path);
    const hash = createHash('sha256');
    let bytes = 0;
    try {
      // A large piece costs fewer turns of the event loop; memory stays a few times this.
      for await (const piece of createReadStream(absolute, { highWaterMark: 1 << 19, signal })) {
        hash.update(piece as Buffer);
        file.push(piece as Buffer);
        bytes += (piece as Buffer).length;
        progress?.(path, bytes);
      }
    } catch (error) {
      throw asLogError(error, path);
    }
    file.end();
    hashes.set(path, hash.digest('hex'));
  }
  const log = reader.finish();
  return { ...log, files: log.files.map((file) => ({ ...file, sha256: hashes.get(file.path)! })), settings };
}

/** Reads and hashes a file that is needed whole. */
async function readText(absolute: string, path: string, settings: InputFile[]): Promise<string> {
  let bytes: Buffer;
  try {
    bytes = await readFile(absolute);
  } catch (error) {
    throw asLogError(error, path);
  }
  settings.push({ path, sha256: createHash('sha256').update(bytes).digest('hex') });
  return linesToUtf8(bytes).toString('utf8');
}

function asLogError(error: unknown, path: string): unknown {
  const code = (error as NodeJS.ErrnoException).code;
  if (code === 'ENOENT') return new LogError(path, 'there is no such file', 'Check the spelling');
  if (code === 'EACCES' || code === 'EPERM')
    return new LogError(path, 'no permission to read it', 'Ask for the permission, or copy the file');
  if (code === 'EISDIR') return new LogError(path, 'a folder, not a file', 'Give the file');
  return error;
}

async function mappingOf({ mapping }: ReadOptions, cwd: string, settings: InputFile[]): Promise<Mapping> {
  return mapping === undefined
    ? noMapping
    : readMapping(await readText(resolve(cwd, mapping), mapping, settings), mapping);
}

interface ModelsContext {
  readonly cwd: string;
  readonly mapping: Mapping;
  readonly settings: InputFile[];
}

/** The models file given, or every models.csv beside a log: in its folder, else in one above, up to the folder given. */
async function modelsOf(
  found: readonly FoundLog[],
  { models }: ReadOptions,
  { cwd, mapping, settings }: ModelsContext,
): Promise<readonly ModelSpec[]> {
  const paths = models === undefined ? await modelsBeside(found) : [resolve(cwd, models)];
  const specs = new Map<string, ModelSpec>();
  const origin = new Map<string, string>();
  for (const absolute of paths) {
    const path = shownPath(absolute, cwd);
    const { models: read, problems } = readModels(await readText(absolute, path, settings), path, mapping.a4Hz);
    if (problems.length > 0)
      throw new LogError(path, `the models file has errors:\n  ${problems.join('\n  ')}\n`, 'Mend them and read again');
    for (const spec of read) {
      const other = specs.get(spec.model);
      if (other && JSON.stringify(spec) !== JSON.stringify(other))
        throw new LogError(
          path,
          `model "${spec.model}" differs from the one in ${origin.get(spec.model)}`,
          'Make them agree, or give one models file with --models',
        );
      specs.set(spec.model, spec);
      origin.set(spec.model, path);
    }
  }
  return [...specs.values()];
}

async function modelsBeside(found: readonly FoundLog[]): Promise<string[]> {
  const paths = new Set<string>();
  const searched = new Map<string, string | undefined>();
  for (const { absolute, root } of found) {
    for (let folder = dirname(absolute); ; folder = dirname(folder)) {
      if (!searched.has(folder)) searched.set(folder, await modelsIn(folder));
      const path = searched.get(folder);
      if (path !== undefined) paths.add(path);
      if (path !== undefined || folder === root || folder === dirname(folder)) break;
    }
  }
  return [...paths];
}

async function modelsIn(folder: string): Promise<string | undefined> {
  const name = (await readdir(folder)).sort().find((entry) => isModelsFile(entry));
  return name === undefined ? undefined : join(folder, name);
}
