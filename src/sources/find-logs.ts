import { readdir, stat } from 'node:fs/promises';
import { basename, dirname, extname, isAbsolute, join, relative, resolve, sep } from 'node:path';
import picomatch from 'picomatch';
import { LogError } from '../logs/log-error.ts';

/** A log on disk. */
export interface FoundLog {
  /** As a person would write it: relative to the working directory where it lies inside, with forward slashes. */
  readonly path: string;
  readonly absolute: string;
  /** Folder up to which models.csv is looked for: the folder given, or the one the log lies in. */
  readonly root: string;
}

const extensions = new Set(['.csv', '.tsv', '.txt']);

/** What `upneck standard` leaves beside house-standard.json: a second run over the same folder must not take it for logs. */
const drawnUp = new Set(['house-standard.csv', 'rejects.csv']);

/**
 * Finds the logs that the words of a call stand for: files, folders (with all in them, sub-folders too) and globs.
 * models.csv is passed over (a shell may put it among the words for `logs/*.csv`), in folders and globs hidden files and the
 * tables beside a house-standard.json too. Each log comes once, in the order given and then by name.
 *
 * @param cwd folder that relative words start from
 * @throws {LogError} when a word stands for no log
 */
export async function findLogs(words: readonly string[], cwd: string): Promise<FoundLog[]> {
  const found = new Map<string, FoundLog>();
  for (const word of words)
    for (const { absolute, root } of await logsOf(word, cwd))
      if (!found.has(absolute)) found.set(absolute, { path: shownPath(absolute, cwd), absolute, root });
  const logs = [...found.values()].filter(({ absolute }) => !isModelsFile(absolute));
  if (logs.length === 0)
    throw new LogError(
      words.join(' '),
      'a models file, not a log',
      'Give the logs; models.csv beside them is found by itself',
    );
  return logs;
}

/** Whether a path names a models file: models.csv in any case of letters. */
export function isModelsFile(path: string): boolean {
  return basename(path).toLowerCase() === 'models.csv';
}

/** A path as a person would write it from `cwd`. */
export function shownPath(absolute: string, cwd: string): string {
  const within = relative(cwd, absolute);
  const shown = within.startsWith('..') || isAbsolute(within) ? absolute : within;
  return shown.split(sep).join('/');
}

async function logsOf(word: string, cwd: string): Promise<{ absolute: string; root: string }[]> {
  const absolute = resolve(cwd, word);
  const kind = await kindOf(absolute);
  if (kind === 'file') return [{ absolute, root: dirname(absolute) }];
  if (kind === 'other') throw new LogError(word, 'neither a file nor a folder', 'Give a file, a folder or a glob');
  const { base, isGlob } = picomatch.scan(word);
  if (kind === 'none' && !isGlob)
    throw new LogError(word, 'there is no such file or folder', 'Check the spelling, or give a folder or a glob');
  const root = kind === 'folder' ? absolute : resolve(cwd, base);
  const wanted =
    kind === 'folder'
      ? (path: string) => extensions.has(extname(path).toLowerCase())
      : picomatch(word.startsWith('./') ? word.slice(2) : word);
  const from = kind === 'folder' || isAbsolute(word) ? '' : cwd;
  const logs = (await filesUnder(root)).filter((path) => {
    const name = from === '' ? path : relative(from, path);
    return wanted(name.split(sep).join('/')) && !isModelsFile(path);
  });
  if (logs.length === 0)
    throw new LogError(
      word,
      kind === 'folder' ? 'the folder holds no log (.csv, .tsv or .txt, models.csv aside)' : 'no file matches',
      'Give the folder or the files the logs are in',
    );
  return logs.map((path) => ({ absolute: path, root }));
}

async function kindOf(path: string): Promise<'file' | 'folder' | 'other' | 'none'> {
  try {
    const found = await stat(path);
    return found.isFile() || found.isFIFO() ? 'file' : found.isDirectory() ? 'folder' : 'other';
  } catch (error) {
    const code = (error as NodeJS.ErrnoException).code;
    if (code === 'ENOENT' || code === 'ENOTDIR' || code === 'ENAMETOOLONG') return 'none';
    throw new LogError(path, `cannot be looked at (${(error as Error).message})`, 'Check the permissions');
  }
}

/** Every file below a folder, by name; hidden files and folders are passed over. */
async function filesUnder(folder: string): Promise<string[]> {
  if ((await kindOf(folder)) !== 'folder') return [];
  const entries = await readdir(folder, { withFileTypes: true });
  const files: string[] = [];
  const holdsStandard = entries.some(({ name }) => name === 'house-standard.json');
  for (const entry of entries.sort((a, b) => (a.name < b.name ? -1 : 1))) {
    if (entry.name.startsWith('.') || (holdsStandard && drawnUp.has(entry.name))) continue;
    const path = join(folder, entry.name);
    const kind = entry.isSymbolicLink() ? await kindOf(path) : entry.isDirectory() ? 'folder' : 'file';
    // A linked folder may lead back up; a linked file cannot.
    if (kind === 'folder' && !entry.isSymbolicLink()) files.push(...(await filesUnder(path)));
    else if (kind === 'file') files.push(path);
  }
  return files;
}
