// Module resolution for notebooks, on Node's loader thread. A cell imports `upneck-cell:{"specifier", "parent"}`:
// the specifier is resolved from the notebook's folder, `upneck` from anywhere, and local modules that have changed
// since they were loaded are loaded again, together with the other local modules, which may import them.
import { statSync } from 'node:fs';
import { readFile } from 'node:fs/promises';
import { fileURLToPath } from 'node:url';

const scheme = 'upneck-cell:';
/** @type {string} Folder of this package, as a URL with a final slash. */
let packageUrl = '';
/** @type {string} */
let packageEntry = '';
let generation = 0;
/** @type {Map<string, string>} Local modules of this generation and their size and time when loaded. */
let loaded = new Map();

/** @param {{ packageUrl: string, packageEntry: string }} data */
export function initialize(data) {
  ({ packageUrl, packageEntry } = data);
}

/** @param {string} url */
function stamp(url) {
  const info = statSync(fileURLToPath(url), { throwIfNoEntry: false });
  return info ? `${info.mtimeMs} ${info.size}` : 'gone';
}

/** Modules name TypeScript beside them without its extension too, or with the one it will have. */
function typeScriptFile(specifier, parent) {
  if (!/^\.{0,2}\//.test(specifier) || !parent?.startsWith('file:') || parent.includes('/node_modules/')) return null;
  const bare = specifier.replace(/\.js$/, '');
  const names = bare.endsWith('/') ? [`${bare}index.ts`] : [`${bare}.ts`, `${bare}/index.ts`, `${bare}.js`];
  const urls = names.map((name) => new URL(name, parent));
  return urls.find((url) => statSync(url, { throwIfNoEntry: false })?.isFile())?.href ?? null;
}

/** @type {import('node:module').ResolveHook} */
export async function resolve(specifier, context, nextResolve) {
  let parent = context.parentURL;
  const isFromCell = specifier.startsWith(scheme);
  if (isFromCell) {
    ({ specifier, parent } = JSON.parse(decodeURIComponent(specifier.slice(scheme.length))));
    if ([...loaded].some(([url, before]) => stamp(url) !== before)) {
      generation += 1;
      loaded = new Map();
    }
  }
  if (specifier === 'upneck') return nextResolve(packageEntry, context);
  const found = await nextResolve(specifier, { ...context, parentURL: parent }).catch((error) => {
    const file = typeScriptFile(specifier, parent);
    if (file) return nextResolve(file, context);
    // A notebook far from any node_modules may use the packages this one brings.
    if (!isFromCell || /^(\.{0,2}\/|[a-z]+:)/.test(specifier)) throw error;
    return nextResolve(specifier, { ...context, parentURL: packageEntry }).catch(() => Promise.reject(error));
  });
  const [url] = found.url.split('?');
  const isLocal = url.startsWith('file:') && !url.includes('/node_modules/') && !url.startsWith(`${packageUrl}src/`);
  if (!isLocal) return found;
  if (!loaded.has(url)) loaded.set(url, stamp(url));
  return { ...found, url: `${url}?local=${generation}` };
}

/**
 * Modules beside a notebook are ECMAScript modules when they are TypeScript or have imports and exports, whether or
 * not a package.json says so; CommonJS stays what it is.
 *
 * @type {import('node:module').LoadHook}
 */
export async function load(url, context, nextLoad) {
  const [plainUrl, query] = url.split('?');
  if (!query?.startsWith('local=') || !/\.(m?ts|js|json)$/.test(plainUrl)) return nextLoad(url, context);
  const path = fileURLToPath(plainUrl);
  const text = await readFile(path, 'utf8');
  if (plainUrl.endsWith('.json')) {
    if (context.importAttributes?.type === 'json') return nextLoad(url, context);
    return { format: 'module', source: `export default ${text};`, shortCircuit: true };
  }
  if (plainUrl.endsWith('.js') && !/^\s*(import|export)\b/m.test(text)) return nextLoad(plainUrl, context);
  const { transform } = await import('esbuild');
  const loader = plainUrl.endsWith('.js') ? 'js' : 'ts';
  const options = {
    loader,
    format: 'esm',
    target: 'node20',
    sourcemap: 'inline',
    sourcefile: path,
    logLevel: 'silent',
  };
  const { code } = await transform(text, options);
  return { format: 'module', source: code, shortCircuit: true };
}
