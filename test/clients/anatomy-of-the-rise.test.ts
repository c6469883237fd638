import { execFile } from 'node:child_process';
import { mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { expect, test } from 'vitest';

// One model read at the 12th and the 17th alone, as most shops read: no groups, no passes, no causes to tell apart.
test('anatomy-of-the-rise leaves out, with the reason, what a small log cannot answer', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-anatomy-'));
  const rows = Array.from({ length: 48 }, (_, at) => {
    const [instrument, string] = [Math.floor(at / 6), at % 6];
    const sharp = ((7 * at) % 11) / 10;
    return `K${instrument},Alder 6,${string + 1},12,${sharp}\nK${instrument},Alder 6,${string + 1},17,${2 + ((5 * at) % 13) / 10}\n`;
  });
  writeFileSync(join(folder, 'log.csv'), `instrument,model,string,fret,cents\n${rows.join('')}`);
  const call = ['src/clients/upneck.mjs', 'run', 'notebooks/anatomy-of-the-rise.lit.md', '--set', `logs=${folder}`];
  await promisify(execFile)(process.execPath, [...call, '--set', 'studies=2', '--out', join(folder, 'out')]);
  const page = readFileSync(join(folder, 'out/anatomy-of-the-rise.html'), 'utf8');
  for (const reason of [
    'Cannot compare 1 group; expected at least 2',
    'Cannot take the rise of Alder 6 apart: no string was read at more than 2 frets on one pass',
  ])
    expect(page).toContain(`Not told from this log. ${reason}`);
  expect(page).toMatch(/To find a difference of 1 cent of mean rise, (read )?\d+ instruments of each group/);
  const figures = readdirSync(join(folder, 'out')).filter((name) => name.endsWith('.csv'));
  expect(figures.sort()).toEqual(['cause-shapes.csv', 'known-causes.csv']);
}, 60_000);
