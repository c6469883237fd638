import { sorted } from './sorted.ts';

/** What the braces after `ts` say: `{#load .hidden note="by hand"}`. */
export interface Attributes {
  readonly id: string | null;
  readonly tags: readonly string[];
  readonly metadata: Readonly<Record<string, unknown>>;
}

const none: Attributes = { id: null, tags: [], metadata: {} };

/**
 * Reads attributes in the form `{#id .tag key=word key="some words"}`; values in single quotes are JSON.
 *
 * @returns null when the text is not of this form
 */
export function parseAttributes(text: string): Attributes | null {
  if (text.trim() === '') return none;
  const inner = /^\s*\{(.*)\}\s*$/s.exec(text)?.[1];
  if (inner === undefined) return null;
  let id: string | null = null;
  const tags: string[] = [];
  const metadata: Record<string, unknown> = {};
  const item = /\s*(?:#([\w-]+)|\.([^\s{}=#."']+)|([\w.-]+)=(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([^\s"'{}]+)))(?=\s|$)/y;
  const end = inner.trimEnd().length;
  while (item.lastIndex < end) {
    const match = item.exec(inner);
    if (!match) return null;
    const [, name, tag, key, quoted, json, word] = match;
    if (name !== undefined) {
      if (id !== null || name.length > 64) return null;
      id = name;
    } else if (tag !== undefined) tags.push(tag);
    else if (json !== undefined) {
      try {
        metadata[key!] = JSON.parse(json);
      } catch {
        return null;
      }
    } else metadata[key!] = word ?? quoted!.replace(/\\(.)/g, '$1');
  }
  return unpacked({ id, tags, metadata });
}

/** Names with a meaning of their own: `tags` and `metadata` hold what cannot stand as words. */
const reserved = ['tags', 'metadata'];

function unpacked({ id, tags, metadata }: Attributes): Attributes {
  const { tags: more, metadata: inner, ...rest } = metadata;
  return {
    id,
    tags: Array.isArray(more) ? [...tags, ...more.map(String)] : tags,
    metadata: typeof inner === 'object' && inner !== null ? { ...rest, ...inner } : rest,
  };
}

/** The canonical form of attributes, with a space before it, or nothing. */
export function printAttributes({ id, tags, metadata: unsorted }: Attributes): string {
  const metadata = sorted(unsorted) as Record<string, unknown>;
  const areTagsWords = tags.every((tag) => /^[^\s{}#=."'`<>\\\p{C}]+$/u.test(tag));
  const keys = Object.keys(metadata);
  const areKeysWords = keys.every((key) => /^[\w.-]+$/.test(key) && !reserved.includes(key));
  const words = [
    ...(id === null ? [] : [`#${id}`]),
    ...(areTagsWords ? tags.map((tag) => `.${tag}`) : [`tags=${printValue(tags)}`]),
    ...(areKeysWords ? keys.map((key) => `${key}=${printValue(metadata[key])}`) : [`metadata=${printValue(metadata)}`]),
  ];
  return words.length === 0 ? '' : ` {${words.join(' ')}}`;
}

function printValue(value: unknown): string {
  if (typeof value === 'string' && /^[\w./:+-]+$/.test(value)) return value;
  if (typeof value === 'string' && /^[^"\\`<>'\p{C}]+$/u.test(value)) return `"${value}"`;
  // Characters that would end the quotes, the fence's first line or the comment are written as escapes of JSON.
  const escape = (character: string): string => `\\u${character.charCodeAt(0).toString(16).padStart(4, '0')}`;
  return `'${JSON.stringify(value).replace(/['`<>]/g, escape)}'`;
}
