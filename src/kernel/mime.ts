import { inspect } from 'node:util';
import type { MimeBundle } from '../notebook/cell.ts';
import { isTable, tableBundle } from './table.ts';

/**
 * How a value brings its own representation: a method under this symbol returns a MIME bundle. The symbol is in the
 * global registry, so that a figure needs no import of the kernel: `[Symbol.for('upneck.mime')]() { return {...} }`.
 */
export const mimeSymbol = Symbol.for('upneck.mime');

/** Longest text shown for one value, in characters; a longer one is cut with a note. */
const longestText = 100_000;

/**
 * The forms in which a client may show a value: its own (see {@link mimeSymbol}), SVG or HTML of a document element,
 * a table, or text as `util.inspect` writes it.
 *
 * @returns null for undefined: there is nothing to show
 */
export function mimeBundle(value: unknown): MimeBundle | null {
  if (value === undefined) return null;
  if ((typeof value === 'object' && value !== null) || typeof value === 'function') {
    const own = (value as Partial<Record<symbol, unknown>>)[mimeSymbol];
    if (typeof own === 'function') return ownBundle(own.call(value));
    if (isElement(value)) return elementBundle(value);
    if (isTable(value)) return tableBundle(value);
  }
  return { 'text/plain': capped(typeof value === 'string' ? value : inspected(value)) };
}

function ownBundle(bundle: unknown): MimeBundle | null {
  if (typeof bundle !== 'object' || bundle === null || Array.isArray(bundle))
    throw new TypeError(
      `The upneck.mime method returned ${inspect(bundle)}; expected an object from MIME type to content`,
    );
  const strange = Object.keys(bundle).find((type) => !/^[\w.+-]+\/[\w.+-]+$/.test(type));
  if (strange !== undefined)
    throw new TypeError(`The upneck.mime method returned the key "${strange}"; expected a MIME type such as text/html`);
  return Object.keys(bundle).length === 0 ? null : (bundle as MimeBundle);
}

function inspected(value: unknown): string {
  return inspect(value, { depth: 4, maxArrayLength: 100, maxStringLength: 10_000, breakLength: 80 });
}

function capped(text: string): string {
  if (text.length <= longestText) return text;
  return `${text.slice(0, longestText)}\n... ${text.length - longestText} more characters`;
}

interface ElementLike {
  readonly outerHTML: string;
  readonly nodeName: string;
  readonly textContent: string | null;
  getAttribute(name: string): string | null;
}

/** An element of any DOM: a browser's or linkedom's. */
function isElement(value: object): value is ElementLike {
  return 'outerHTML' in value && 'nodeName' in value && typeof value.outerHTML === 'string';
}

function elementBundle(element: ElementLike): MimeBundle {
  const name = element.nodeName.toLowerCase();
  const label = element.getAttribute('aria-label') ?? element.getAttribute('title') ?? '';
  if (name !== 'svg') return { 'text/html': element.outerHTML, 'text/plain': label || `<${name}>` };
  const markup = element.outerHTML;
  const svg = markup.includes('xmlns=') ? markup : markup.replace('<svg', '<svg xmlns="http://www.w3.org/2000/svg"');
  return { 'image/svg+xml': svg, 'text/plain': label || 'figure' };
}

/** Makes values that are shown in a given form: `mime.html('<b>yes</b>')`, `mime.image(bytes, { alt })`. */
export const mime = {
  bundle: (bundle: MimeBundle): object => ({ [mimeSymbol]: () => bundle }),
  html: (html: string): object => mime.bundle({ 'text/html': html, 'text/plain': html.replace(/<[^>]*>/g, '') }),
  markdown: (markdown: string): object => mime.bundle({ 'text/markdown': markdown, 'text/plain': markdown }),
  svg: (svg: string, alt = 'figure'): object => mime.bundle({ 'image/svg+xml': svg, 'text/plain': alt }),
  json: (value: unknown): object => mime.bundle({ 'application/json': value, 'text/plain': inspected(value) }),
  /** A PNG, JPEG, GIF or WebP picture, told apart by its first bytes. */
  image: (bytes: Uint8Array, alt = 'picture'): object =>
    mime.bundle({ [imageType(bytes)]: Buffer.from(bytes).toString('base64'), 'text/plain': alt }),
  /** Sound as a WAV file's bytes. */
  audio: (wav: Uint8Array, alt = 'sound'): object =>
    mime.bundle({ 'audio/wav': Buffer.from(wav).toString('base64'), 'text/plain': alt }),
};

function imageType(bytes: Uint8Array): string {
  const head = Buffer.from(bytes.subarray(0, 12)).toString('latin1');
  if (head.startsWith('\x89PNG')) return 'image/png';
  if (head.startsWith('\xff\xd8\xff')) return 'image/jpeg';
  if (head.startsWith('GIF8')) return 'image/gif';
  if (head.startsWith('RIFF') && head.endsWith('WEBP')) return 'image/webp';
  throw new TypeError(`Cannot show these ${bytes.length} bytes as a picture; expected a PNG, JPEG, GIF or WebP file`);
}
