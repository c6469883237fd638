import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { usageProfiles } from '../../src/sources/read-usage.ts';
import { divisions, note, partwise, pitched } from '../policy/musicxml-examples.ts';
import { type Call, upneck } from './call.ts';

const cwd = mkdtempSync(join(tmpdir(), 'usage-'));
afterAll(() => rmSync(cwd, { recursive: true }));

// By hand, in quarter notes: string 1 fret 12 is 4 / 2 = 2, string 2 fret 13 is 1 / 2 = 0.5; one grace note.
beforeAll(() => {
  const grace = '<grace/><pitch><step>D</step><octave>5</octave></pitch>';
  const melody = note(pitched('E', 5, 4), 1, 12) + note(grace, 2, 15) + note(pitched('C', 5, 1), 2, 13);
  writeFileSync(join(cwd, 'song.musicxml'), partwise({ Guitar: [divisions(2) + melody] }));
  writeFileSync(join(cwd, 'count.csv'), 'string;fret;count\n1;12;1,5\n7;3;4\n');
});

const call = (...args: string[]): Promise<Call> => upneck(cwd, ...args);

test('usage counts a score, says what it skipped, and writes a profile that it reads again', async () => {
  const counted = await call('usage', 'song.musicxml', '--out', 'profile.csv');
  expect(counted).toEqual({
    code: 0,
    stdout: `Quarter notes by string and fret

fret  str 1  str 2    share
---------------------------
  12      2      .   80.0 %
  13      .    0.5   20.0 %

song.musicxml: 2 of 3 notes counted, 1 skipped.
Skipped (1): grace notes, which have no duration of their own; the first is at
  song.musicxml:7, part P1, measure 1, note 2.
`,
    stderr: 'Wrote profile.csv\n',
  });
  expect(readFileSync(join(cwd, 'profile.csv'), 'utf8')).toBe('string,fret,count\r\n1,12,2\r\n2,13,0.5\r\n');
  const again = await call('usage', 'profile.csv');
  expect(again.stdout.split('\n').slice(1, 6)).toEqual(counted.stdout.split('\n').slice(1, 6));
});

test('usage adds up files, and says that counts were added to quarter notes', async () => {
  const { code, stdout: out } = await call('usage', 'song.musicxml', 'count.csv');
  expect(code).toBe(0);
  // 2 + 1.5 on string 1 at fret 12, 4 on string 7 at fret 3: 4 of 8 in all.
  expect(out).toMatch(/^ {3}3 {6}\. {6}\. {6}4 {3}50\.0 %$/m);
  expect(out).toMatch(/^ {2}12 {4}3\.5 {6}\. {6}\. {3}43\.8 %$/m);
  expect(out).toContain('The counts of CSV files were added to quarter notes as they stand.');
});

test('usage and standard name the profiles there are, within 80 columns', async () => {
  for (const command of ['usage', 'standard']) {
    const { stdout: out } = await call(command, '--help');
    for (const [name, what] of Object.entries(usageProfiles)) {
      const line = out.split('\n').find((one) => one.trim().startsWith(`${name} `) && one.endsWith(what));
      expect(line, `${command}: ${name}`).toBeDefined();
      expect(line!.length).toBeLessThanOrEqual(80);
    }
  }
});

test.each([
  [[], 2, 'found no file; expected at least one MusicXML or CSV file'],
  [['count.csv', '--out', ''], 2, 'found --out without a name; expected a CSV file to write'],
  [
    ['count.csv', '--out', 'count.csv'],
    2,
    'count.csv is one of the files read and would be written over; expected another --out',
  ],
  [
    ['count.csv', './count.csv'],
    1,
    './count.csv: the same file as count.csv, byte for byte; it would count twice. Give one of them',
  ],
  [
    ['count.csv', '--part', 'Lead'],
    1,
    'count.csv: found part "Lead" asked of a CSV file, expected a score. Leave the part out',
  ],
  [['song.musicxml', '--part', 'Lead'], 1, 'song.musicxml: found no part "Lead", expected one of P1 (Guitar)'],
  [
    ['leed'],
    1,
    'leed: there is no such file; expected a CSV file with string, fret, count or a MusicXML score, or one of whole-neck, open-position, lead, bass',
  ],
  [
    ['.'],
    1,
    '.: a folder; expected a CSV file with string, fret, count or a MusicXML score, or one of whole-neck, open-position, lead, bass',
  ],
])('usage %j fails in words', async (args, code, message) => {
  const called = await call('usage', ...args);
  expect(called.stderr.split('\n')[0]).toBe(`upneck usage: ${message}`);
  expect(called).toMatchObject({ code, stdout: '' });
});

// What a notebook's parameter becomes: "expected one of ..., lead" would send its reader round in a circle.
test('usage names no profile where a path was given', async () => {
  const called = await call('usage', join(cwd, 'lead'));
  expect(called.stderr).toBe(
    'upneck usage: lead: there is no such file; expected a CSV file with string, fret, count or a MusicXML score\n',
  );
});

// Eight instruments of two strings, 21 frets as no models.csv says otherwise.
const log = `instrument,model,string,fret,cents\n${[1, 2, 3, 4, 5, 6, 7, 8]
  .flatMap((at) =>
    [1, 2].flatMap((string) => [12, 17].map((fret) => [`I${at}`, 'A', string, fret, (fret * at) % 5].join(','))),
  )
  .join('\n')}\n`;

test('standard weighs frets by a score, and says what of it the neck has no place for', async () => {
  writeFileSync(join(cwd, 'log.csv'), log);
  // By hand, of 10 quarter notes on frets: 4 at fret 12 of string 1, 1 at fret 22 of it (10 %), 5 on string 3 (50 %).
  const played = [note(pitched('E', 5, 4), 1, 12), note(pitched('D', 6, 1), 1, 22), note(pitched('C', 4, 5), 3, 5)];
  writeFileSync(join(cwd, 'high.xml'), partwise({ Guitar: [divisions(1) + played.join('')] }));
  const { code, stdout: out } = await call('standard', 'log.csv', '--usage', 'high.xml', '--json');
  expect(code).toBe(0);
  const { notes, options, inputs } = JSON.parse(out) as {
    notes: string[];
    options: { usage: string };
    inputs: { path: string }[];
  };
  expect(options.usage).toBe('high.xml');
  expect(inputs.map(({ path }) => path)).toContain('high.xml');
  expect(notes).toEqual(
    expect.arrayContaining([
      'high.xml: 3 of 3 notes counted, 0 skipped.',
      'Usage high.xml, for A: 10 % of the fretted playing lies above fret 21, the last one, and was left out.',
      'Usage high.xml, for A: 50 % of the fretted playing is on strings that were not read, and was left out.',
      'Usage high.xml, for A: no note on string 2, weighed as the others together.',
    ]),
  );
});

test('standard takes a profile by its name', async () => {
  writeFileSync(join(cwd, 'log.csv'), log);
  const shares = async (...args: string[]): Promise<{ usage: string; shares: number[] }> => {
    const { stdout: out } = await call('standard', 'log.csv', '--json', ...args);
    const { options, entries } = JSON.parse(out) as { options: { usage: string }; entries: { share: number }[] };
    return { usage: options.usage, shares: entries.map(({ share }) => share) };
  };
  const [low, lead] = [await shares('--usage', 'open-position'), await shares('--usage', 'lead')];
  expect([low.usage, lead.usage]).toEqual(['usage/open-position.csv', 'usage/lead.csv']);
  expect((await shares()).usage).toBe('usage/whole-neck.csv');
  expect(lead.shares).not.toEqual(low.shares);
});
