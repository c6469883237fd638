import { createHash } from 'node:crypto';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';
import type { InputFile } from './read-logs.ts';

/**
 * Reads a small file whole, with the SHA-256 of its bytes.
 *
 * @param path name of the file for the record and for messages
 * @param expected what a message says was expected
 */
export async function readBytes(
  absolute: string,
  path: string,
  expected: string,
): Promise<InputFile & { readonly bytes: Buffer }> {
  const bytes = await readFile(absolute).catch((error: NodeJS.ErrnoException) => {
    const found =
      { ENOENT: 'there is no such file', EISDIR: 'a folder' }[error.code ?? ''] ?? `cannot be read (${error.message})`;
    throw new Error(`${path}: ${found}; expected ${expected}`, { cause: error });
  });
  return { path, sha256: createHash('sha256').update(bytes).digest('hex'), bytes };
}

/** Reads a small text file whole, with the SHA-256 of its bytes; a byte order mark is kept. */
export async function readTextFile(absolute: string, path: string): Promise<InputFile & { readonly text: string }> {
  const { bytes, sha256 } = await readBytes(absolute, path, 'a text file');
  return { path, sha256, text: bytes.toString('utf8') };
}

/** Where a file of the package's own `shared/` folder stands on disk. */
export function sharedPath(name: string): string {
  return fileURLToPath(new URL(`../../shared/${name}`, import.meta.url));
}

/** Reads a file of the package's own `shared/` folder by its path there, such as `page.css` or `usage/whole-neck.csv`. */
export function readShared(name: string): ReturnType<typeof readTextFile> {
  return readTextFile(sharedPath(name), name);
}
