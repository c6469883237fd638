import { register } from 'node:module';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { bundle } from './bundle.ts';
import type { Box } from './variables.ts';

const packageUrl = new URL('../../', import.meta.url);

/** Teaches Node how cells name modules, and to read TypeScript beside a notebook (see hooks.mjs). */
async function registerHooks(): Promise<void> {
  const folder = new URL('src/', packageUrl);
  const entry = new URL('index.ts', folder);
  // The one module that asks for its place.
  const file = bundle({ entry, folder, url: new URL('sources/read-text.ts', folder) });
  if (file === null) await import(import.meta.resolve('tsx')); // which is slow with every package
  process.setSourceMapsEnabled(true);
  const data = { packageUrl: packageUrl.href, packageEntry: file === null ? entry.href : pathToFileURL(file).href };
  register('./hooks.mjs', import.meta.url, { data });
}

/** Done at the first import, so that a session starts sooner. */
let registered: Promise<void> | null = null;

type Namespace = Record<string, unknown>;

/** Loads modules as seen from a notebook in `folder`. */
export class Imports {
  private readonly parent: string;
  /** Makes each reference new: Node asks its hooks once per reference. */
  private count = 0;

  constructor(private readonly folder: string) {
    this.parent = pathToFileURL(join(folder, 'notebook')).href;
  }

  /** What `import.meta` is in a cell. */
  get meta(): { readonly url: string; readonly dirname: string } {
    return { url: this.parent, dirname: this.folder };
  }

  /** Dynamic import. */
  async load(specifier: unknown, options?: ImportCallOptions): Promise<Namespace> {
    await (registered ??= registerHooks());
    const reference = encodeURIComponent(
      JSON.stringify({ specifier: String(specifier), parent: this.parent, count: (this.count += 1) }),
    );
    try {
      return (await import(`upneck-cell:${reference}`, options)) as Namespace;
    } catch (error) {
      throw this.explained(error, String(specifier));
    }
  }

  /** Static import: gives each named export to the box of its local name. */
  async into(
    specifier: string,
    names: readonly (readonly [string, Box])[],
    attributes: Record<string, string>,
  ): Promise<void> {
    const module = await this.load(specifier, Object.keys(attributes).length > 0 ? { with: attributes } : undefined);
    for (const [name, box] of names) {
      if (name === '*') box.d = module;
      else if (name in module) box.d = module[name];
      else {
        // It may be a type, which leaves nothing to import; using it as a value tells.
        box.isDeclared = false;
        box.reason = `"${specifier}" exports nothing of that name that has a value`;
      }
    }
  }

  /** Node's message names our own reference; the author's names the specifier and where it was looked for. */
  private explained(error: unknown, specifier: string): unknown {
    if (!(error instanceof Error) || !('code' in error) || error.code !== 'ERR_MODULE_NOT_FOUND') return error;
    const isOwn = error.message.includes('imported from') && error.message.includes(join(this.folder, 'notebook'));
    if (!isOwn) return error;
    return new Error(
      `Cannot find "${specifier}" from ${this.folder}; expected a file that is there, or an installed package`,
    );
  }
}
