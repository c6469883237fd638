import { readFile } from 'node:fs/promises';
import { fromIpynb, type ShownNotebook } from '../notebook/ipynb.ts';
import { NotebookSyntaxError, parseLitMd } from '../notebook/lit-md.ts';
import { WrongCall } from './io.ts';

const expected = 'expected a notebook (*.lit.md or *.ipynb)';

/**
 * Reads a notebook's file, literate or .ipynb.
 *
 * @param name the path as the person wrote it, for messages
 * @throws {WrongCall} when there is no such file
 * @throws {Error} when it is no notebook; the message names file and line
 */
export async function readNotebook(path: string, name: string): Promise<ShownNotebook> {
  const bytes = await readBytes(path, name);
  let text: string;
  try {
    text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch (error) {
    throw new Error(`${name} is not UTF-8 text; ${expected}`, { cause: error });
  }
  if (text.includes('\0')) throw new Error(`${name} is not text; ${expected}`);
  try {
    if (path.endsWith('.ipynb')) return fromIpynb(text);
    return { notebook: parseLitMd(text), outputs: new Map(), counts: new Map() };
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
    if (code === 'ENOENT' || code === 'ENOTDIR') throw new WrongCall(`there is no file "${name}"; ${expected}`);
    if (code === 'EISDIR') throw new WrongCall(`"${name}" is a folder; ${expected}`);
    throw error;
  }
}
