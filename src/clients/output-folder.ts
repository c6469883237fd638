import { stat } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { WrongCall } from './io.ts';

/**
 * The folder that a command writes to: what `--out` names, else `out`; none with `--json` and no `--out`.
 *
 * @throws {WrongCall} when the name is empty, or that of a file
 */
export async function outputFolder(
  { out, json }: { readonly out?: string | undefined; readonly json: boolean },
  cwd: string,
): Promise<string | undefined> {
  if (out === '') throw new WrongCall('found --out without a folder; expected the name of one');
  const folder = out ?? (json ? undefined : 'out');
  if (folder === undefined) return undefined;
  for (let path = resolve(cwd, folder); ; path = dirname(path)) {
    const found = await isFolder(path);
    if (found === false) throw new WrongCall(`found --out ${folder}, where ${path} is a file; expected a folder`);
    if (found === true || path === dirname(path)) return folder;
  }
}

/** Undefined where there is nothing. */
function isFolder(path: string): Promise<boolean | undefined> {
  return stat(path).then(
    (found) => found.isDirectory(),
    () => undefined,
  );
}

/**
 * Keeps a command from writing over what it has read, and from writing a file where a folder is.
 *
 * @param inputs  files read, by their paths as given
 * @param outputs names of the files to write into the folder
 * @throws {WrongCall} naming the file that would be lost, or the folder
 */
export async function requirePlaces(
  inputs: readonly { readonly path: string }[],
  outputs: readonly string[],
  { folder, cwd }: { readonly folder: string; readonly cwd: string },
): Promise<void> {
  const places = outputs.map((name) => resolve(cwd, folder, name));
  const twin = inputs.find(({ path }) => places.includes(resolve(cwd, path)));
  if (twin)
    throw new WrongCall(`${twin.path} is one of the files read and would be written over; expected another --out`);
  for (const name of outputs)
    if (await isFolder(resolve(cwd, folder, name)))
      throw new WrongCall(`found a folder ${join(folder, name)} where a file is to be written; expected another --out`);
}
