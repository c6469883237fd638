import { resolve } from 'node:path';
import type { HouseStandard } from '../policy/standard.ts';
import type { InputFile } from '../sources/read-logs.ts';

/** Reads a house-standard.json by its path as given. */
export async function readStandard(
  path: string,
  cwd: string,
): Promise<{ readonly file: InputFile; readonly standard: HouseStandard }> {
  const { readTextFile } = await import('../sources/read-text.ts');
  const { parseStandard } = await import('../policy/standard-json.ts');
  const file = await readTextFile(resolve(cwd, path), path);
  return { file, standard: parseStandard(file.text, file.path) };
}
