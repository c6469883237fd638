import { existsSync, readFileSync } from 'node:fs';
import { extname, resolve } from 'node:path';

const types: Record<string, string> = {
  '.png': 'image/png',
  '.jpg': 'image/jpeg',
  '.jpeg': 'image/jpeg',
  '.gif': 'image/gif',
  '.webp': 'image/webp',
  '.svg': 'image/svg+xml',
};

/** A picture beside a notebook as a data: URL, or null when the URL is not that of a local picture. */
export function pictureUrl(folder: string, url: string): string | null {
  const type = types[extname(url).toLowerCase()];
  const path = resolve(folder, url);
  if (type === undefined || /^[a-z][a-z0-9+.-]*:/i.test(url) || !existsSync(path)) return null;
  return `data:${type};base64,${readFileSync(path).toString('base64')}`;
}
