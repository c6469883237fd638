import { createHash, randomUUID } from 'node:crypto';
import {
  existsSync,
  mkdirSync,
  readFileSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
  utimesSync,
  writeFileSync,
} from 'node:fs';
import { createRequire } from 'node:module';
import { basename, join } from 'node:path';
import { fileURLToPath } from 'node:url';

export interface Bundle {
  /** The module to begin with. */
  readonly entry: URL;
  /** The folder, with a final slash, that holds it and all it imports; packages come in too. */
  readonly folder: URL;
  /** What `import.meta.url` is in all of its modules. */
  readonly url: URL;
  /** The folder, with a final slash, that keeps bundles. */
  readonly cache?: URL;
}

/** Packages that stay what they are: cells import them too and must get the same ones, or they hold a program. */
const shared = ['arquero', '@observablehq/plot', 'esbuild', 'typescript'];
/** CommonJS packages within ask for what Node brings. */
const requireBanner =
  "import { createRequire as requireFrom } from 'node:module'; const require = requireFrom(import.meta.url);";

/** Bundles are removed a day after their last use, in milliseconds. */
const keepTime = 86_400_000;
const manifest = new URL('../../package.json', import.meta.url);
const packageCache = new URL('../../node_modules/.cache/upneck/', import.meta.url);

/**
 * TypeScript modules as one file of JavaScript, made again when any of them has changed. Node loads it several times
 * faster than the modules, each of which goes through a translator.
 *
 * @returns the file's path, or null where none can be made
 */
export function bundle({ entry, folder, url, cache = packageCache }: Bundle): string | null {
  const hash = createHash('sha256').update(readFileSync(manifest)); // which names the packages' versions
  const root = fileURLToPath(folder);
  for (const name of readdirSync(root, { recursive: true, encoding: 'utf8' }).sort())
    if (name.endsWith('.ts')) hash.update(`${name}\n`).update(readFileSync(join(root, name)));
  const name = `upneck-${basename(entry.pathname, '.ts')}-${hash.digest('hex').slice(0, 16)}.mjs`;
  const path = join(fileURLToPath(cache), name);
  try {
    utimesSync(path, new Date(), new Date()); // in use: not an old one to remove
  } catch {
    // Not made yet, or another person's.
  }
  if (existsSync(path)) return path;
  try {
    mkdirSync(cache, { recursive: true });
    const temporary = `${path}.${randomUUID()}`;
    writeFileSync(temporary, build(entry, url, path));
    renameSync(temporary, path);
    removeOld(fileURLToPath(cache));
    return path;
  } catch {
    return null; // a folder nobody may write to, or sources with an error, which loading them will tell
  }
}

function removeOld(folder: string): void {
  for (const name of readdirSync(folder)) {
    const path = join(folder, name);
    if (Date.now() - (statSync(path, { throwIfNoEntry: false })?.mtimeMs ?? 0) > keepTime)
      rmSync(path, { force: true });
  }
}

function build(entry: URL, url: URL, path: string): Uint8Array {
  // Loaded only when it is needed, which is once.
  const { buildSync } = createRequire(import.meta.url)('esbuild') as typeof import('esbuild');
  const { outputFiles } = buildSync({
    entryPoints: [fileURLToPath(entry)],
    outfile: path,
    bundle: true,
    external: [...shared],
    banner: { js: requireBanner },
    platform: 'node',
    format: 'esm',
    target: 'node20',
    charset: 'utf8',
    sourcemap: 'inline',
    sourcesContent: false,
    define: { 'import.meta.url': JSON.stringify(url.href) },
    logLevel: 'silent',
    write: false,
  });
  return outputFiles[0]!.contents;
}
