import { relative, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Loss } from '../../policy/loss.ts';
import type { Playing } from '../../policy/usage-files.ts';
import type { Logs } from '../../sources/read-logs.ts';
import { defaultUsage, isProfile, profileLines, readUsageFile } from '../../sources/read-usage.ts';
import type { Trend } from '../../trend/trend.ts';
import { WrongCall, type Io } from '../io.ts';
import { outputFolder, requirePlaces } from '../output-folder.ts';
import { readStandard } from '../read-standard.ts';
import { requireReadings } from '../require-readings.ts';

export const usage = `Usage: upneck standard LOG... [--models FILE] [--mapping FILE] [--usage WHICH]
                       [--loss audible|squared|minimax] [--audible CENTS]
                       [--since FILE] [--out DIR] [--json]

Draws up a house standard from logs of readings: for every model and string how
to weigh the 12th fret against the 17th, what both should read, and how sure
that is. Prints it as a table and writes

  DIR/house-standard.json   for programs (shared/house-standard.schema.json)
  DIR/house-standard.csv    for a spreadsheet
  DIR/bench-card.html       for the bench: prints one page a model
  DIR/rejects.csv           rows of the logs that were refused, if any

  --models FILE    what is known of the models (default: models.csv beside the
                   logs)
  --mapping FILE   what foreign headers stand for; see "upneck import --help"
  --usage WHICH    how often each string is played at each fret: a CSV with
                   string, fret, count; tablature in MusicXML (.musicxml,
                   .xml, .mxl; see "upneck usage --help"); or the name of a
                   profile (default: ${defaultUsage}):
${profileLines('                   ')}  --loss KIND      what an error costs: audible (the part beyond a threshold,
                   squared; the default), squared, or minimax (the worst fret)
  --audible CENTS  the threshold of loss audible (default: 3)
  --since FILE     the house-standard.json that this one replaces: tell what
                   changes for the bench, and why (see "upneck compare --help")
  --out DIR        folder to write to (default: out; with --json nothing is
                   written unless --out is given)
  --json           print house-standard.json on stdout instead of the table
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      models: { type: 'string' },
      mapping: { type: 'string' },
      usage: { type: 'string' },
      loss: { type: 'string', default: 'audible' },
      audible: { type: 'string' },
      since: { type: 'string' },
      out: { type: 'string' },
      json: { type: 'boolean', default: false },
    },
  });
  if (positionals.length === 0) throw new WrongCall('found no log; expected at least one file, folder or glob');
  const loss = lossOf(values.loss, values.audible);
  if (values.since !== undefined && values.json)
    throw new WrongCall(
      'found --since with --json; expected one of them ("upneck compare --json" gives changes as JSON)',
    );
  const folder = await outputFolder(values, io.cwd);

  const { readLogs } = await import('../../sources/read-logs.ts');
  const { readShared } = await import('../../sources/read-text.ts');
  const { readPlaying } = await import('../../policy/usage-files.ts');
  // Before anything is written: the standard to replace may be the one in the folder.
  const earlier = values.since === undefined ? null : (await readStandard(values.since, io.cwd)).standard;
  const profile = await readUsageFile(values.usage ?? defaultUsage, io.cwd);
  const playing = readPlaying(profile.bytes, profile.path);
  const logs = await readLogs(positionals, {
    cwd: io.cwd,
    signal: io.signal,
    models: values.models,
    mapping: values.mapping,
  });
  const inputs = [...logs.files, ...logs.settings, profile];
  await requireReadings(logs);
  requireOnce(logs);
  if (folder !== undefined) await requirePlaces(inputs, outputs, { folder, cwd: io.cwd });

  const { sumReadings } = await import('../../sources/block-sums.ts');
  const { fitTrend } = await import('../../trend/fit-trend.ts');
  const { makeStandard } = await import('../../policy/standard.ts');
  const { standardJson } = await import('../../policy/standard-json.ts');
  const trend = fitTrend(sumReadings(logs.readings));
  const notes = [...trend.notes, ...suspicions(logs)];
  // Our own profiles are written for any neck, and are cut to it.
  if (!isProfile(values.usage ?? defaultUsage)) notes.push(...(await usageNotes(playing, trend, logs)));
  const standard = makeStandard({ ...trend, notes }, logs.models, {
    usage: playing.usage,
    usageName: profile.path,
    loss,
    created: new Date().toISOString(),
    inputs: inputs.map(({ path, sha256 }) => ({ path, sha256 })),
  });
  const json = standardJson(standard);
  const { wrapped } = await import('../../policy/plain-text.ts');
  if (folder !== undefined) {
    const { standardCsv } = await import('../../policy/standard-csv.ts');
    const { benchCard } = await import('../../policy/bench-card.ts');
    const { rejectsToCsv } = await import('../../logs/reject.ts');
    const { writeFiles } = await import('../../sources/write-file.ts');
    const css = (await readShared('page.css')).text;
    const names = await writeFiles(resolve(io.cwd, folder), {
      'house-standard.json': json,
      'house-standard.csv': standardCsv(standard),
      'bench-card.html': benchCard(standard, logs.models, css),
      ...(logs.rejects.length > 0 ? { 'rejects.csv': rejectsToCsv(logs.rejects) } : {}),
    });
    const place = relative(io.cwd, resolve(io.cwd, folder)) || '.';
    io.stderr(`${wrapped(`Wrote ${names.join(', ')} to ${place}`, 78)}\n`);
  }
  if (values.json) io.stdout(json);
  else {
    const { standardText } = await import('../../policy/standard-text.ts');
    io.stdout(
      `${standardText(standard)}\n${remarks(logs, standard.notes, trend)
        .map((line) => `${wrapped(line, 78)}\n`)
        .join('')}`,
    );
    if (earlier) {
      const { parseStandard } = await import('../../policy/standard-json.ts');
      const { compareStandards } = await import('../../policy/compare-standards.ts');
      const { comparisonText } = await import('../../policy/comparison-text.ts');
      // As a file holds it, so that rounding is no change.
      io.stdout(`\n${comparisonText(compareStandards(earlier, parseStandard(json, 'the new standard')))}`);
    }
  }
  return 0;
}

function lossOf(kind: string, audible: string | undefined): Loss {
  if (kind !== 'audible' && audible !== undefined)
    throw new WrongCall(`found --audible with --loss ${kind}; expected it with --loss audible only`);
  switch (kind) {
    case 'audible': {
      const thresholdCents = audible === undefined ? 3 : Number(audible);
      if (!(thresholdCents >= 0 && thresholdCents <= 100) || !/^[\d.]+$/.test(audible ?? '3'))
        throw new WrongCall(`found --audible "${audible}"; expected a number of cents from 0 to 100, such as 2.5`);
      return { kind, thresholdCents };
    }
    case 'squared':
    case 'minimax':
      return { kind };
    default:
      throw new WrongCall(`found --loss ${kind}; expected audible, squared or minimax`);
  }
}

/** What was counted of the playing, and what of it the models' necks have no place for. */
async function usageNotes(playing: Playing, trend: Trend, { models }: Logs): Promise<string[]> {
  const { playingNotes } = await import('../../policy/usage-text.ts');
  const { usageFit } = await import('../../policy/usage-fit.ts');
  const { neckOf } = await import('../../policy/standard.ts');
  const fretboards = trend.models.map((model) => ({
    model: model.model,
    strings: model.cells.map(({ string }) => string),
    frets: neckOf(model, models).frets,
  }));
  return [...playingNotes(playing), ...usageFit(playing.usage, playing.file, fretboards)];
}

/** What the command writes; rejects.csv only where rows were refused. */
const outputs = ['house-standard.json', 'house-standard.csv', 'bench-card.html', 'rejects.csv'];

/** Sees to it, before any work is done, that the files can be written: all of them or none. */
/** A log and a copy of it would count every reading twice, and make all intervals too narrow. */
function requireOnce({ files }: Logs): void {
  const first = new Map<string, string>();
  for (const { path, sha256, readings } of files) {
    const twin = first.get(sha256);
    if (twin !== undefined && readings > 0)
      throw new RangeError(
        `${path}: the same file as ${twin}, byte for byte; its readings would count twice. Give one of them`,
      );
    first.set(sha256, path);
  }
}

/** Rows that look wrong and were kept, counted by kind. */
function suspicions({ findings }: Logs): string[] {
  const kinds: Partial<Record<Logs['findings'][number]['kind'], [what: string, so: string]>> = {
    duplicate: ['read twice alike', ', and counted twice'],
    'large-error': ['more than 50 cents off', ''],
    'sign-slip': ['after a saddle move that answered the wrong way', ''],
    'two-models': [
      'an instrument under a second model',
      ', where it counts under the one that most of its readings name',
    ],
  };
  const counts = Object.entries(kinds).flatMap(([kind, [what, so]]) => {
    const count = findings.filter((finding) => finding.kind === kind).length;
    return count === 0 ? [] : [`${what} (${count})${so}`];
  });
  return counts.length === 0
    ? []
    : [`Rows that look wrong and were kept: ${counts.join('; ')}. "upneck import" lists them.`];
}

/** What the shop lead should know beside the table: counts, notes, suspected faults. */
function remarks({ totals }: Logs, notes: readonly string[], { faults }: Trend): string[] {
  const refused = `${totals.rejects} ${totals.rejects === 1 ? 'row' : 'rows'} refused`;
  return [
    `${totals.readings} readings, ${refused}.`,
    ...notes,
    ...faults.map(({ instrument, model, message }) => `${instrument} (${model}): ${message}.`),
  ];
}
