import { extname, isAbsolute, resolve } from 'node:path';
import { shownPath } from './find-logs.ts';
import { readBytes, sharedPath } from './read-text.ts';
import type { InputFile } from './read-logs.ts';

/** The profiles in shared/usage by name, with what they stand for. */
export const usageProfiles = {
  'whole-neck': 'notes all over the neck, most of them low',
  'open-position': 'accompaniment on the first frets',
  lead: 'melody above the 12th fret',
  bass: 'bass lines, most notes below the 5th fret',
} as const satisfies Readonly<Record<string, string>>;

/** The profile taken where none is named. */
export const defaultUsage: keyof typeof usageProfiles = 'whole-neck';

/** Whether a word is the name of one of {@link usageProfiles}. */
export function isProfile(word: string): word is keyof typeof usageProfiles {
  return Object.hasOwn(usageProfiles, word);
}

/** The profiles by name with what they stand for, one a line, for a help text. */
export function profileLines(indent: string): string {
  const width = Math.max(...Object.keys(usageProfiles).map((name) => name.length));
  return Object.entries(usageProfiles)
    .map(([name, what]) => `${indent}${name.padEnd(width)}  ${what}\n`)
    .join('');
}

/**
 * Reads what says how often each string is played where: one of {@link usageProfiles} by its name, else a file (a CSV or
 * a MusicXML score). A file that has a profile's name is given as `./NAME`.
 *
 * @param cwd folder that a relative path starts from
 * @returns the bytes, for `readPlaying`, with path and SHA-256; a profile's path is the one inside shared/
 */
export function readUsageFile(word: string, cwd = process.cwd()): Promise<InputFile & { readonly bytes: Uint8Array }> {
  if (isProfile(word)) {
    const path = `usage/${word}.csv`;
    return readBytes(sharedPath(path), path, 'the profile');
  }
  const names = Object.keys(usageProfiles).join(', ');
  // A path, as a notebook's parameter becomes, is never looked up among the profiles.
  const profile = extname(word) === '' && !isAbsolute(word) ? `, or one of ${names}` : '';
  const path = isAbsolute(word) ? shownPath(word, cwd) : word;
  return readBytes(resolve(cwd, word), path, `a CSV file with string, fret, count or a MusicXML score${profile}`);
}
