import { readFile } from 'node:fs/promises';
import type { Notebook } from '../notebook/cell.ts';
import { NotebookSyntaxError, parseLitMd } from '../notebook/lit-md.ts';
import { WrongCall } from './io.ts';

/**
 * Reads a notebook's file.
 *
 * @param name the path as the person wrote it, for messages
 * @throws {WrongCall} when there is no such file
 * @throws {Error} when it is no notebook; the message names file and line
 */
export async function readNotebook(path: string, name: string): Promise<Notebook> {
  const bytes = await readBytes(path, name);
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch (error) {
    throw new Error(`${name} is not UTF-8 text; expected a notebook (*.lit.md)`, { cause: error });
  }
  if (text.includes('\0')) throw new Error(`${name} is not text; expected a notebook (*.lit.md)`);
  try {
    return parseLitMd(text);
  } catch (error) {
    if (error instanceof NotebookSyntaxError)
      throw new Error(`${name}:${error.line}: ${error.message}`, { cause: error });
    throw error;
  }
}

async function readBytes(path: string, name: string): Promise<Uint8Array> {
  try {
    return await readFile(path);
  } catch (error) {
    const code = error instanceof Error && 'code' in error ? error.code : '';
    if (code === 'ENOENT' || code === 'ENOTDIR')
      throw new WrongCall(`there is no file "${name}"; expected a notebook (*.lit.md)`);
    if (code === 'EISDIR') throw new WrongCall(`"${name}" is a folder; expected a notebook (*.lit.md)`);
    throw error;
  }
}
