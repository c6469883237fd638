import { relative, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Loss } from '../../policy/loss.ts';
import type { Logs } from '../../sources/read-logs.ts';
import type { Trend } from '../../trend/fit-trend.ts';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck standard LOG... [--models FILE] [--mapping FILE] [--usage FILE]
                       [--loss audible|squared|minimax] [--audible CENTS]
                       [--out DIR] [--json]

Draws up a house standard from logs of readings: for every model and string how
to weigh the 12th fret against the 17th, what both should read, and how sure
that is. Prints it as a table and writes

  DIR/house-standard.json   for programs (shared/house-standard.schema.json)
  DIR/house-standard.csv    for a spreadsheet
  DIR/bench-card.html       for the bench: prints one page a model
  DIR/rejects.csv           rows of the logs that were refused, where there are any

  --models FILE    what is known of the models (default: models.csv beside the logs)
  --mapping FILE   what foreign headers stand for; see "upneck import --help"
  --usage FILE     how often each string is played at each fret: CSV with
                   string, fret, count (default: shared/usage/whole-neck.csv)
  --loss KIND      what an error costs: audible (the part beyond a threshold,
                   squared; the default), squared, or minimax (the worst fret)
  --audible CENTS  the threshold of loss audible (default: 3)
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
      out: { type: 'string' },
      json: { type: 'boolean', default: false },
    },
  });
  if (positionals.length === 0) throw new WrongCall('found no log; expected at least one file, folder or glob');
  const loss = lossOf(values.loss, values.audible);

  const { readLogs } = await import('../../sources/read-logs.ts');
  const { readShared, readTextFile } = await import('../../sources/read-text.ts');
  const { readUsage } = await import('../../policy/usage.ts');
  const profile = await (values.usage === undefined
    ? readShared('usage/whole-neck.csv')
    : readTextFile(resolve(io.cwd, values.usage), values.usage));
  const usage = readUsage(profile.text, profile.path);
  const logs = await readLogs(positionals, {
    cwd: io.cwd,
    signal: io.signal,
    ...(values.models === undefined ? {} : { models: values.models }),
    ...(values.mapping === undefined ? {} : { mapping: values.mapping }),
  });
  if (logs.totals.readings === 0)
    throw new RangeError(`no reading is left of ${logs.totals.rows} rows; "upneck import" says why they were refused`);

  const { sumReadings } = await import('../../sources/block-sums.ts');
  const { fitTrend } = await import('../../trend/fit-trend.ts');
  const { makeStandard } = await import('../../policy/standard.ts');
  const { standardJson } = await import('../../policy/standard-json.ts');
  const trend = fitTrend(sumReadings(logs.readings));
  const standard = makeStandard(trend, logs.models, {
    usage,
    usageName: profile.path,
    loss,
    created: new Date().toISOString(),
    inputs: [...logs.files, ...logs.settings, profile].map(({ path, sha256 }) => ({ path, sha256 })),
  });
  const json = standardJson(standard);
  const folder = values.out ?? (values.json ? undefined : 'out');
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
    io.stderr(`Wrote ${names.join(', ')} to ${relative(io.cwd, resolve(io.cwd, folder)) || '.'}\n`);
  }
  if (values.json) io.stdout(json);
  else {
    const { standardText } = await import('../../policy/standard-text.ts');
    io.stdout(`${standardText(standard)}\n${remarks(logs, trend)}`);
  }
  return 0;
}

function lossOf(kind: string, audible: string | undefined): Loss {
  if (kind !== 'audible' && audible !== undefined)
    throw new WrongCall(`found --audible with --loss ${kind}; expected it with --loss audible only`);
  switch (kind) {
    case 'audible': {
      const thresholdCents = audible === undefined ? 3 : Number(audible);
      if (!(thresholdCents >= 0 && thresholdCents <= 100) || audible?.trim() === '')
        throw new WrongCall(`found --audible ${audible}; expected a number of cents from 0 to 100`);
      return { kind, thresholdCents };
    }
    case 'squared':
    case 'minimax':
      return { kind };
    default:
      throw new WrongCall(`found --loss ${kind}; expected audible, squared or minimax`);
  }
}

/** What the shop lead should know beside the table: counts, notes, suspected faults. */
function remarks({ totals }: Logs, trend: Trend): string {
  const lines = [`${totals.readings} readings, ${totals.rejects} rows refused.`, ...trend.notes];
  for (const fault of trend.faults) lines.push(`${fault.instrument} (${fault.model}): ${fault.message}.`);
  return lines.map((line) => `${wrap(line, 78)}\n`).join('');
}

/** Breaks a sentence at spaces, lines after the first indented by two. */
function wrap(text: string, width: number): string {
  const lines: string[] = [];
  let line = '';
  for (const word of text.split(' ')) {
    if (line !== '' && line.length + 1 + word.length > width) {
      lines.push(line);
      line = `  ${word}`;
    } else line = line === '' ? word : `${line} ${word}`;
  }
  return [...lines, line].join('\n');
}
