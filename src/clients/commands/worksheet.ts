import { join, relative, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Worksheet } from '../../bench/worksheet.ts';
import type { HouseStandard } from '../../policy/standard.ts';
import type { InputFile, Logs } from '../../sources/read-logs.ts';
import { defaultUsage, isProfile } from '../../sources/read-usage.ts';
import { WrongCall, type Io } from '../io.ts';
import { outputFolder, requirePlaces } from '../output-folder.ts';
import { readStandard } from '../read-standard.ts';
import { requireReadings } from '../require-readings.ts';

export const usage = `Usage: upneck worksheet LOG... --standard FILE [--instrument ID]
                        [--models FILE] [--mapping FILE] [--usage WHICH]
                        [--out DIR] [--json]

What to do to an instrument whose 12th and 17th frets have just been read: for
every string which way its saddle goes, how far, how many turns, what it should
read then, and what to check first when the instrument is unlike its model.
After a move, log the new readings with the next pass number and call it again:
the next step learns from how the saddle answered. Prints the worksheet, and
writes

  DIR/worksheet-ID.html  for the bench: prints on one page, with room to write
  DIR/worksheets.json    for programs (shared/worksheets.schema.json)
  DIR/rejects.csv        rows of the log that were refused, where there are any

  --standard FILE   house-standard.json, as "upneck standard" writes it
  --instrument ID   this instrument of the log alone (default: each of them,
                    with a table of contents on the terminal)
  --models FILE     what is known of the models now (default: models.csv beside
                    the log, else what the standard says)
  --mapping FILE    what foreign headers stand for; see "upneck import --help"
  --usage WHICH     how often each string is played at each fret, by which a
                    saddle under several strings is set: a file or the name of
                    a profile, as for "upneck standard" (default: the profile
                    that the standard was drawn up with)
  --out DIR         folder to write to (default: out; with --json nothing is
                    written unless --out is given)
  --json            print worksheets.json on stdout instead of the worksheet
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      standard: { type: 'string' },
      instrument: { type: 'string' },
      models: { type: 'string' },
      mapping: { type: 'string' },
      usage: { type: 'string' },
      out: { type: 'string' },
      json: { type: 'boolean', default: false },
    },
  });
  if (positionals.length === 0) throw new WrongCall('found no log; expected at least one file, folder or glob');
  if (values.standard === undefined)
    throw new WrongCall('found no --standard; expected the house-standard.json that "upneck standard" writes');
  const folder = await outputFolder(values, io.cwd);

  const { readShared } = await import('../../sources/read-text.ts');
  const { readLogs } = await import('../../sources/read-logs.ts');
  const { readPlaying } = await import('../../policy/usage-files.ts');
  const { readUsageFile } = await import('../../sources/read-usage.ts');
  const { makeWorksheets } = await import('../../bench/worksheet.ts');
  const { file, standard } = await readStandard(values.standard, io.cwd);
  const profile = await readUsageFile(values.usage ?? usageOf(standard), io.cwd);
  const logs = await readLogs(positionals, {
    cwd: io.cwd,
    signal: io.signal,
    models: values.models,
    mapping: values.mapping,
  });
  await requireReadings(logs);
  const sheets = chosen(
    makeWorksheets(logs.readings, {
      standard,
      models: logs.models,
      usage: readPlaying(profile.bytes, profile.path).usage,
      findings: logs.findings,
    }),
    values.instrument,
  ).map((sheet) => ({
    ...sheet,
    notes: [...sheet.notes, ...usageNote(sheet, standard, profile), ...refusedNote(logs)],
  }));

  const { worksheetsJson } = await import('../../bench/worksheet-json.ts');
  const json = worksheetsJson(sheets, standard, new Date().toISOString());
  const { worksheetFileNames } = await import('../../bench/worksheet-files.ts');
  const names = worksheetFileNames(sheets);
  if (folder !== undefined) {
    const inputs = [file, profile, ...logs.files, ...logs.settings];
    await requirePlaces(inputs, [...names, 'worksheets.json', 'rejects.csv'], { folder, cwd: io.cwd });
    const { worksheetPage } = await import('../../bench/worksheet-page.ts');
    const { rejectsToCsv } = await import('../../logs/reject.ts');
    const { writeFiles } = await import('../../sources/write-file.ts');
    const css = (await readShared('page.css')).text;
    await writeFiles(resolve(io.cwd, folder), {
      ...Object.fromEntries(sheets.map((sheet, at) => [names[at]!, worksheetPage(sheet, standard, css)])),
      'worksheets.json': json,
      ...(logs.rejects.length > 0 ? { 'rejects.csv': rejectsToCsv(logs.rejects) } : {}),
    });
    const place = relative(io.cwd, resolve(io.cwd, folder)) || '.';
    const pages = sheets.length === 1 ? join(place, names[0]!) : `${sheets.length} worksheets to ${place}`;
    io.stderr(`Wrote ${pages}\n`);
  }
  if (values.json) io.stdout(json);
  else if (sheets.length === 1) {
    const { worksheetText } = await import('../../bench/worksheet-text.ts');
    io.stdout(worksheetText(sheets[0]!));
  } else {
    const { worksheetContents } = await import('../../bench/worksheet-text.ts');
    io.stdout(worksheetContents(sheets, names));
  }
  return 0;
}

/** How many names a message lists. */
const mostNames = 12;

function chosen(sheets: readonly Worksheet[], instrument: string | undefined): readonly Worksheet[] {
  if (instrument === undefined) return sheets;
  const found = sheets.filter((sheet) => sheet.instrument === instrument.trim().normalize());
  if (found.length > 0) return found;
  const names = sheets.slice(0, mostNames).map((sheet) => sheet.instrument);
  const more = sheets.length > names.length ? ` and ${sheets.length - names.length} more` : '';
  throw new WrongCall(`the log has no instrument "${instrument}"; expected one of ${names.join(', ')}${more}`);
}

/** The profile of ours that the standard was drawn up with; the usual one where it was a file of the shop's own. */
function usageOf({ options }: HouseStandard): string {
  const name = /^usage\/(.+)\.csv$/.exec(options.usage)?.[1];
  return name !== undefined && isProfile(name) ? name : defaultUsage;
}

/** The standard keeps the hash of its usage profile: another one would set shared saddles by other frets. */
function usageNote({ saddles }: Worksheet, { inputs, options }: HouseStandard, profile: InputFile): string[] {
  const known = inputs.some(({ sha256 }) => sha256 === profile.sha256);
  return known || saddles.every(({ strings }) => strings.length === 1)
    ? []
    : [
        `Saddles under several strings are set by the usage profile ${profile.path}; the standard was drawn up with ${options.usage}: give that one with --usage.`,
      ];
}

function refusedNote({ totals }: Logs): string[] {
  if (totals.rejects === 0) return [];
  return [
    `${totals.rejects} ${totals.rejects === 1 ? 'row of the log was' : 'rows of the log were'} refused; rejects.csv has ${totals.rejects === 1 ? 'it' : 'them'}.`,
  ];
}
