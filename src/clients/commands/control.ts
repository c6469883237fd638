import { relative, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { Wanted } from '../../control/sample-size.ts';
import { WrongCall, type Io } from '../io.ts';
import { outputFolder, requirePlaces } from '../output-folder.ts';
import { readStandard } from '../read-standard.ts';
import { requireReadings } from '../require-readings.ts';

export const usage = `Usage: upneck control LOG... --standard FILE [--adopted DAY]
                      [--precision CENTS] [--usage WHICH] [--models FILE]
                      [--mapping FILE] [--out DIR] [--json]

Does the bench follow the standard? Takes the last pass of every instrument
whose saddles were moved, and charts how far it was left from the standard,
technician by technician and model by model, in order of time: what departs,
since when, and what to look at first. Says also how small a saddle error the
bench's readings can see, how many more instruments each model needs, and what
changed when the standard was taken up: errors left, moves a job, suspected
faults. Prints that, and writes

  DIR/control.html  the same with the charts
  DIR/control.json  for programs (shared/control.schema.json)

  --standard FILE    house-standard.json, as "upneck standard" writes it
  --adopted DAY      when the bench took the standard up, such as 2026-03-14;
                     that day counts as after, and the charts begin with it
                     (default: the day it was drawn up)
  --precision CENTS  count instruments until every rise is known to within so
                     many cents (default: until its regret is 0.1 cents at most)
  --usage WHICH      how often each string is played at each fret, as for
                     "upneck standard" (default: whole-neck)
  --models FILE      what is known of the models (default: models.csv beside the
                     logs)
  --mapping FILE     what foreign headers stand for; see "upneck import --help"
  --out DIR          folder to write to (default: out; with --json nothing is
                     written unless --out is given)
  --json             print control.json on stdout instead of the text

Fewer than 8 instruments are drawn and not judged. For a gauge study let two
technicians or more each read the same strings twice or more, with no saddle
moved between, and log that as one pass.
`;

export async function run(args: string[], io: Io): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      standard: { type: 'string' },
      adopted: { type: 'string' },
      usage: { type: 'string' },
      precision: { type: 'string' },
      models: { type: 'string' },
      mapping: { type: 'string' },
      out: { type: 'string' },
      json: { type: 'boolean', default: false },
    },
  });
  if (positionals.length === 0) throw new WrongCall('found no log; expected at least one file, folder or glob');
  if (values.standard === undefined)
    throw new WrongCall('found no --standard; expected the house-standard.json that "upneck standard" writes');
  const wanted = wantedOf(values.precision);
  const adoptedAt = adoptedOf(values.adopted);
  const folder = await outputFolder(values, io.cwd);

  const { readShared } = await import('../../sources/read-text.ts');
  const { readLogs } = await import('../../sources/read-logs.ts');
  const { file, standard } = await readStandard(values.standard, io.cwd);
  const logs = await readLogs(positionals, {
    cwd: io.cwd,
    signal: io.signal,
    models: values.models,
    mapping: values.mapping,
  });
  await requireReadings(logs);
  const { controlReport } = await import('../../control/control-report.ts');
  const { controlJson } = await import('../../control/control-json.ts');
  const { readPlaying } = await import('../../policy/usage-files.ts');
  const { defaultUsage, readUsageFile } = await import('../../sources/read-usage.ts');
  const profile = await readUsageFile(values.usage ?? defaultUsage, io.cwd);
  const { usage } = readPlaying(profile.bytes, profile.path);
  const report = controlReport(logs.readings, standard, { wanted, usage, adoptedAt });
  if (adoptedAt !== undefined && 'reason' in report.adoption)
    throw new WrongCall(
      `found --adopted ${values.adopted}, but ${report.adoption.reason}; expected a day with jobs before it and after it`,
    );
  const json = controlJson(report);
  if (folder !== undefined) {
    const inputs = [file, profile, ...logs.files, ...logs.settings];
    await requirePlaces(inputs, ['control.html', 'control.json'], { folder, cwd: io.cwd });
    const { controlPage } = await import('../../control/control-page.ts');
    const { plotControl } = await import('../../figures/plot-control.ts');
    const { plotAdoption } = await import('../../figures/plot-adoption.ts');
    const { plotGauge } = await import('../../figures/plot-gauge.ts');
    const { writeFiles } = await import('../../sources/write-file.ts');
    const kinds = (['technician', 'model', 'shop'] as const).filter((kind) =>
      report.control.charts.some((chart) => chart.kind === kind && chart.points.length > 0),
    );
    const figures = [
      ...kinds.map((kind) => plotControl(report.control, kind)),
      ...('reason' in report.adoption || report.adoption.differences.at12 === null
        ? []
        : [plotAdoption(report.adoption)]),
      ...(report.gauge.study === null ? [] : [plotGauge(report.gauge.study, report.gauge.fret)]),
    ];
    const css = (await readShared('page.css')).text;
    const names = await writeFiles(resolve(io.cwd, folder), {
      'control.html': controlPage(report, figures, css),
      'control.json': json,
    });
    io.stderr(`Wrote ${names.join(' and ')} to ${relative(io.cwd, resolve(io.cwd, folder)) || '.'}\n`);
  }
  if (values.json) io.stdout(json);
  else {
    const { controlText } = await import('../../control/control-text.ts');
    io.stdout(controlText(report));
  }
  return 0;
}

function wantedOf(precision: string | undefined): Wanted | undefined {
  if (precision === undefined) return undefined;
  const halfWidth = Number(precision);
  if (!(halfWidth > 0 && halfWidth <= 100) || !/^[\d.]+$/.test(precision))
    throw new WrongCall(
      `found --precision "${precision}"; expected a number of cents above 0 and up to 100, such as 0.5`,
    );
  return { halfWidth };
}

function adoptedOf(text: string | undefined): number | undefined {
  if (text === undefined) return undefined;
  const at = Date.parse(text);
  // Date.parse takes 30 February for 2 March.
  if (!/^\d{4}-\d\d-\d\d$/.test(text) || Number.isNaN(at) || new Date(at).toISOString().slice(0, 10) !== text)
    throw new WrongCall(`found --adopted "${text}"; expected a day such as 2026-03-14`);
  return at;
}
