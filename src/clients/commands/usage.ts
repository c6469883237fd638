import { resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { profileLines } from '../../sources/read-usage.ts';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck usage FILE... [--part PART] [--out FILE]

Counts how often each string is played at each fret, prints it as a table, and
writes it as a profile for "upneck standard --usage". A FILE is tablature in
MusicXML (.musicxml, .xml, or compressed .mxl), counted in quarter notes of
sound, or a CSV with string, fret, count. Several files add up. Or name one of
these profiles (common practice, no source):

${profileLines('  ')}
  --part PART  count one part of the scores, by its id or its name (default:
               all parts that have tablature, together)
  --out FILE   write the profile to a CSV file

Tied notes add up and every note of a chord counts. Grace notes, cue notes,
harmonics and notes without string and fret are skipped, and said so. Repeats
are not played out.
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: { part: { type: 'string' }, out: { type: 'string' } },
  });
  if (positionals.length === 0) throw new WrongCall('found no file; expected at least one MusicXML or CSV file');
  if (values.out === '') throw new WrongCall('found --out without a name; expected a CSV file to write');
  const { readUsageFile } = await import('../../sources/read-usage.ts');
  const { readPlaying } = await import('../../policy/usage-files.ts');
  const { addUsages, usageCsv } = await import('../../policy/usage.ts');
  const { playingNotes, usageText } = await import('../../policy/usage-text.ts');
  const { wrapped } = await import('../../policy/plain-text.ts');

  const target = values.out === undefined ? undefined : resolve(io.cwd, values.out);
  const files = [];
  const first = new Map<string, string>();
  for (const word of positionals) {
    const { path, sha256, bytes } = await readUsageFile(word, io.cwd);
    if (resolve(io.cwd, path) === target)
      throw new WrongCall(`${path} is one of the files read and would be written over; expected another --out`);
    const twin = first.get(sha256);
    if (twin !== undefined)
      throw new RangeError(`${path}: the same file as ${twin}, byte for byte; it would count twice. Give one of them`);
    first.set(sha256, path);
    files.push(readPlaying(bytes, path, values.part));
  }
  const sum = addUsages(files.map((file) => file.usage));
  const units = new Set(files.map(({ unit }) => unit));
  const notes = [
    ...files.flatMap(playingNotes),
    ...(units.size > 1 ? ['The counts of CSV files were added to quarter notes as they stand.'] : []),
  ];
  if (target !== undefined) {
    const { writeFile } = await import('../../sources/write-file.ts');
    await writeFile(target, usageCsv(sum));
    io.stderr(`Wrote ${values.out!}\n`);
  }
  const unit = units.size === 1 ? [...units][0]! : 'quarter notes and counts';
  io.stdout(
    `${unit[0]!.toUpperCase()}${unit.slice(1)} by string and fret\n\n${usageText(sum)}\n${notes
      .map((note) => `${wrapped(note, 78)}\n`)
      .join('')}`,
  );
  return 0;
}
