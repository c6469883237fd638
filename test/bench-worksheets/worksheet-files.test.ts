import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { makeWorksheets } from '../../src/bench/worksheet.ts';
import { worksheetFileNames } from '../../src/bench/worksheet-files.ts';
import { writeFiles } from '../../src/sources/write-file.ts';
import { evenUsage, readingsOf, standardOf } from './bench-standard.ts';

function namesOf(instruments: readonly string[]): string[] {
  const rows = instruments.map((instrument) => ({ instrument, string: 1, pass: 0, fret: 12, cents: 3 }));
  const standard = standardOf([{ model: 'Larch', rises: [3] }]);
  return worksheetFileNames(makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage }));
}

test('worksheetFileNames keep letters and digits, and tell two instruments apart', () => {
  expect(namesOf(['../../J1', 'J 2', 'J/2', 'j 2', '桜'])).toEqual([
    'worksheet-..-..-J1.html',
    'worksheet-J-2.html',
    'worksheet-J-2-2.html',
    'worksheet-j-2-3.html',
    'worksheet-桜.html',
  ]);
});

// Disks take names of 255 bytes, and a file is written under a longer name first.
test.each(['J', '桜', '\u{1d4d9}'])('worksheetFileNames of a name of 300 times %s can be written', async (letter) => {
  const folder = mkdtempSync(join(tmpdir(), 'worksheet-files-'));
  const names = namesOf([letter.repeat(300), letter.repeat(301)]);
  expect(new Set(names).size).toBe(2);
  await expect(writeFiles(folder, Object.fromEntries(names.map((name) => [name, name])))).resolves.toEqual(names);
  rmSync(folder, { recursive: true });
});
