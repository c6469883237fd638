import { resolve } from 'node:path';
import { parseArgs } from 'node:util';
import { WrongCall, type Io } from '../io.ts';

export const usage = `Usage: upneck import LOG... [--models FILE] [--mapping FILE]
                     [--rejects FILE] [--json]

Reads and checks logs of readings, and says what was read, what was refused
and why, and what looks wrong. A LOG is a file, a folder or a glob; in a folder
every .csv, .tsv and .txt file is a log, in its sub-folders too.

A log has a header and one reading a row: instrument, model, string (1 is the
thinnest), fret, and cents or hz; or one string a row, with a column f12, f17
and so on for each fret. Commas, semicolons or tabs, decimal points or commas.

  --models FILE   what is known of the models: model, scale_mm, strings, frets,
                  saddles, mm_per_turn, travel_mm, placement and tuning
                  (default: models.csv beside the logs)
  --mapping FILE  JSON that says what foreign headers stand for and which units
                  they are in, as in
                  {"columns": {"Gtr": "instrument",
                               "Saddle": {"column": "saddle_mm", "unit": "in"}}}
  --rejects FILE  write the refused rows to a CSV file, with line and reason
  --json          print counts, rejects and findings as one JSON document

Refused rows do not fail the command; a file that is no log does, and so does
a call that leaves no reading.
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      models: { type: 'string' },
      mapping: { type: 'string' },
      rejects: { type: 'string' },
      json: { type: 'boolean', default: false },
    },
  });
  if (positionals.length === 0) throw new WrongCall('found no log; expected at least one file, folder or glob');

  const { readLogs } = await import('../../sources/read-logs.ts');
  const { expected, rejectsToCsv } = await import('../../logs/reject.ts');
  const log = await readLogs(positionals, {
    cwd: io.cwd,
    signal: io.signal,
    models: values.models,
    mapping: values.mapping,
  });

  if (values.rejects !== undefined) {
    const target = resolve(io.cwd, values.rejects);
    const inputs = [...log.files, ...log.settings].map(({ path }) => resolve(io.cwd, path));
    if (inputs.includes(target))
      throw new WrongCall(`--rejects ${values.rejects} is one of the files read; expected another name`);
    const { writeFile } = await import('../../sources/write-file.ts');
    await writeFile(target, rejectsToCsv(log.rejects));
    const rows = log.rejects.length === 1 ? '1 refused row' : `${log.rejects.length} refused rows`;
    io.stderr(`Wrote ${rows} to ${values.rejects}\n`);
  }
  if (values.json) {
    const document = {
      files: log.files.map(({ path, rows, readings, rejects }) => ({ path, rows, readings, rejects })),
      totals: log.totals,
      rejects: log.rejects.map(({ text, ...reject }) => ({ ...reject, expected: expected[reject.rule], text })),
      findings: log.findings,
    };
    io.stdout(`${JSON.stringify(document, null, 2)}\n`);
  } else {
    const { reportLog } = await import('../../logs/report.ts');
    io.stdout(reportLog(log, Math.max(40, Math.min(80, io.columns))));
  }
  if (log.totals.readings > 0) return 0;
  const { rows } = log.totals;
  const why =
    rows === 0
      ? 'the logs have a header and no rows'
      : rows === 1
        ? 'the only row could not be read'
        : `none of the ${rows} rows could be read`;
  io.stderr(`upneck import: no reading is left: ${why}. Give logs with readings in them.\n`);
  return 1;
}
