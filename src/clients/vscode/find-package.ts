import { existsSync, readFileSync, realpathSync } from 'node:fs';
import { dirname, join, resolve } from 'node:path';

/** No `upneck` package where one was looked for; the message says what to do. */
export class PackageNotFound extends Error {
  override readonly name = 'PackageNotFound';
}

/**
 * The folder of the `upneck` package that runs a notebook's cells: the one a setting names, else the nearest that
 * stands in the notebook's folder or above it, as a package of its own or among the node_modules.
 *
 * @param folder  absolute path of the notebook's folder
 * @param setting absolute or relative to `base`; empty for none
 * @throws {PackageNotFound}
 */
export function findPackage(folder: string, setting: string, base: string): string {
  if (setting !== '') {
    const path = resolve(base, setting);
    if (isPackage(path)) return realpathSync(path);
    throw new PackageNotFound(
      `The setting "upneck.path" names ${path}, where there is no upneck package that the editor can use; expected the folder of its package.json`,
    );
  }
  for (let above = folder; ; above = dirname(above)) {
    for (const path of [above, join(above, 'node_modules', 'upneck')]) if (isPackage(path)) return realpathSync(path);
    if (dirname(above) === above) break;
  }
  throw new PackageNotFound(
    `Cells cannot run: there is no upneck package in ${folder} or above it. Install upneck with npm there, or put its folder into the setting "upneck.path"`,
  );
}

function isPackage(path: string): boolean {
  const manifest = join(path, 'package.json');
  if (!existsSync(manifest) || !existsSync(join(path, companionEntry))) return false;
  return (JSON.parse(readFileSync(manifest, 'utf8')) as { name?: unknown }).name === 'upneck';
}

/** Where the package keeps what the editor starts. */
export const companionEntry = 'src/clients/vscode/companion.mjs';
