import { mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { execFile } from 'node:child_process';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { equalPlacement } from '../../src/acoustics/placement.ts';

const folder = mkdtempSync(join(tmpdir(), 'upneck-necks-'));

/** A page of the notebook about a neck; columns string, fret, millimetres. */
function page(name: string, rows: readonly (readonly number[])[], ...more: string[]): Promise<string> {
  const file = join(folder, `${name}.csv`);
  writeFileSync(file, ['string,fret,nut_to_fret_mm', ...rows.map((row) => row.join(','))].join('\n'));
  const args = ['run', 'notebooks/fret-placement.lit.md', '--set', `positions=${file}`, ...more];
  return new Promise((done) => {
    execFile(process.execPath, ['src/clients/upneck.mjs', ...args, '--out', join(folder, name)], (error, _, stderr) => {
      done(error ? stderr : readFileSync(join(folder, name, 'fret-placement.html'), 'utf8'));
    });
  });
}

/** Readings of a string of equal temperament; a hundredth of a millimetre of scatter. */
const readings = (string: number, scaleMm: number, frets: readonly number[]): number[][] =>
  frets.map((fret) => [
    string,
    fret,
    Number((equalPlacement(scaleMm, 20).nutToFretMm[fret]! + 0.01 * ((7 * fret) % 3)).toFixed(2)),
  ]);
const all = Array.from({ length: 20 }, (_, at) => at + 1);
const fanned = [1, 2, 3].flatMap((string) => readings(string, 640 + 8 * string, all));

test('fret-placement does not take the mean of fanned strings, and takes the one it is told', async () => {
  const [mixed, third, fourth] = await Promise.all([
    page('mixed', fanned),
    page('third', fanned, '--set', 'string=3'),
    page('fourth', fanned, '--set', 'string=4'),
  ]);
  expect(mixed).toContain(
    'RangeError: Strings 1, 2, 3 have scale lengths from 648.0 to 664.0 mm: the frets are fanned. Take one string at a time, such as --set string=1\n',
  );
  expect(third).toMatch(/<td>equal temperament<\/td><td>66[34]\.\d\d \(/);
  expect(fourth).toContain('RangeError: No reading of string 4; expected 0 or one of 1, 2, 3\n');
}, 60_000);

test('fret-placement takes a neck read at some frets under two strings', async () => {
  const some = [1, 3, 5, 7, 12, 15];
  const text = await page('some', [...readings(1, 648, some), ...readings(6, 648, some)]);
  expect(text).toMatch(/<td>equal temperament<\/td><td>64[78]\.\d\d \(/);
}, 60_000);
