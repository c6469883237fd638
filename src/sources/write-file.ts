import { randomUUID } from 'node:crypto';
import { mkdir, open, realpath, rename, rm, stat } from 'node:fs/promises';
import { basename, dirname, join } from 'node:path';

/**
 * Writes a file whole or not at all: beside its place first, then renamed over it, so that an interrupted write leaves
 * the old file as it was. Missing folders are made; a link is written through, not replaced; permissions stay.
 *
 * @throws {Error} that names the path and the reason (no room, no permission ...), the file system's error as its cause;
 *         nothing is left behind then
 */
export async function writeFile(path: string, content: string | Uint8Array): Promise<void> {
  try {
    await writeWhole(path, content);
  } catch (error) {
    throw writeError(path, error);
  }
}

/** The file system's error as a sentence with the path, the reason and what to do. */
export function writeError(path: string, error: unknown): Error {
  const { code, message } = error as NodeJS.ErrnoException;
  return new Error(`${path}: cannot be written: ${reasons[code ?? ''] ?? message}`, { cause: error });
}

/** The file system's codes in words. */
const reasons: Readonly<Record<string, string>> = {
  ENOENT: 'its folder does not exist. Make it, or give another place',
  EEXIST: 'a file stands where a folder is needed. Give another place',
  ENOTDIR: 'a file stands where a folder is needed. Give another place',
  EISDIR: 'a folder of that name is in the way. Give another name',
  EACCES: 'no permission. Give another place, or ask for the permission',
  EPERM: 'no permission. Give another place, or ask for the permission',
  EROFS: 'the disk is read-only. Give another place',
  ENOSPC: 'the disk is full. Make room, or give another place',
  EDQUOT: 'your share of the disk is full. Make room, or give another place',
  EFBIG: 'it may not grow larger. Give another file',
};

async function writeWhole(path: string, content: string | Uint8Array): Promise<void> {
  await mkdir(dirname(path), { recursive: true });
  const target = await realpath(path).catch(() => path);
  const beside = join(dirname(target), `.${basename(target)}.${randomUUID()}.part`);
  try {
    const old = await stat(target).catch(() => undefined);
    const handle = await open(beside, 'wx');
    try {
      if (old?.isFile()) await handle.chmod(old.mode);
      await handle.writeFile(content);
      await handle.sync();
    } finally {
      await handle.close();
    }
    await rename(beside, target);
  } catch (error) {
    await rm(beside, { force: true });
    throw error;
  }
}

/**
 * Writes several files into one folder, each whole or not at all, in the order given.
 *
 * @param files text by file name
 * @returns the names written
 * @throws {RangeError} where a name is a path, before anything is written: a name from a log must not lead out of the folder
 */
export async function writeFiles(folder: string, files: Readonly<Record<string, string>>): Promise<string[]> {
  for (const name of Object.keys(files))
    if (/[/\\]/.test(name) || ['', '.', '..'].includes(name))
      throw new RangeError(`found the file name "${name}", expected one without a folder`);
  for (const [name, text] of Object.entries(files)) await writeFile(join(folder, name), text);
  return Object.keys(files);
}
