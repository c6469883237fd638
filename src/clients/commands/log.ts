import { readdir } from 'node:fs/promises';
import { dirname, join, resolve } from 'node:path';
import { parseArgs } from 'node:util';
import type { ModelSpec } from '../../logs/models.ts';
import type { AdviceSource } from '../terminal/string-advice.ts';
import { type Lines, typedLines } from '../terminal/lines.ts';
import { WrongCall, type Io } from '../io.ts';
import { readStandard } from '../read-standard.ts';

export const usage = `Usage: upneck log FILE [--instrument ID --model MODEL] [--pass N]
                  [--technician NAME] [--standard FILE] [--models FILE]
                  [--usage FILE] [--hz]

Takes readings at the bench, a line each: string, fret and cents, as in
"3 12 +1.5"; with the string known "12 1.5", and with string and fret in the
prompt "+1.5". Each is saved in FILE the moment it is typed. After the 12th and
the 17th of a string it says what no saddle move changes and, with a standard,
which way to move the saddle and how far. "help" lists what else can be typed.

FILE is a log as "upneck import" reads it. A new one gets its header; to one
that exists rows are added in its own columns and its own way of writing. One
process at a time: FILE has a lock (.FILE.lock) while it is open. A row taken
back with "undo" is kept in FILE.undone; one that a crash cut off, in FILE.torn.

  --instrument ID    begin with this instrument (default: the log's last one)
  --model MODEL      its model, where the log does not have it yet
  --pass N           its pass: 0 as received, 1 after the first saddle move
                     (default: the last one logged)
  --technician NAME  who reads
  --standard FILE    house-standard.json, as "upneck standard" writes it
  --models FILE      what is known of the models (default: models.csv beside
                     FILE, else what the standard says)
  --usage FILE       usage profile, as for "upneck worksheet"
  --hz               readings are frequencies in hertz

Lines may come from a pipe too; it then fails if a line could not be saved.
`;

/** What a session is given from outside beside the files. */
export interface Bench {
  readonly typed: (signal: AbortSignal) => Lines | Promise<Lines>;
  readonly now: () => Date;
}

const bench: Bench = { typed: typedLines, now: () => new Date() };

export async function run(args: string[], io: Io, { typed, now }: Bench = bench): Promise<number> {
  const { values, positionals } = parseArgs({
    args,
    allowPositionals: true,
    options: {
      instrument: { type: 'string' },
      model: { type: 'string' },
      pass: { type: 'string' },
      technician: { type: 'string' },
      standard: { type: 'string' },
      models: { type: 'string' },
      usage: { type: 'string' },
      hz: { type: 'boolean', default: false },
    },
  });
  const [file, ...more] = positionals;
  if (file === undefined || more.length > 0)
    throw new WrongCall(`found ${positionals.length} files; expected one, the log to add readings to`);
  if (values.model !== undefined && values.instrument === undefined)
    throw new WrongCall('found --model without --instrument; expected both, or neither');
  if (values.pass !== undefined && !/^\d{1,3}$/.test(values.pass))
    throw new WrongCall(`found --pass ${values.pass}; expected a whole number: 0 is as received`);
  await requireNames(values);
  const path = resolve(io.cwd, file);
  const { isModelsFile } = await import('../../sources/find-logs.ts');
  if (isModelsFile(path)) throw new WrongCall(`found ${file}, the name of a models file; expected a log`);

  const { openLog } = await import('../../sources/append-log.ts');
  const { BenchSession } = await import('../terminal/bench-session.ts');
  const { sentences } = await import('../terminal/sentences.ts');
  const { makeAdviser } = await import('../terminal/string-advice.ts');
  const specs = await knownModels(path, values.models, io);
  const advice = await adviceSource(values, { specs, io });
  const reads = values.hz ? 'hz' : 'cents';
  const technician = values.technician?.trim();
  const log = await openLog(path, {
    shown: file,
    models: specs,
    reads,
    technician: technician !== undefined,
    tell: (sentence) => {
      io.stdout(sentences(sentence));
    },
  });
  try {
    const session = new BenchSession({
      log,
      shown: file,
      reads,
      technician,
      instrument: values.instrument,
      model: values.model,
      pass: values.pass === undefined ? undefined : Number(values.pass),
      models: advice?.models ?? specs,
      adviser: makeAdviser(advice),
      now,
    });
    const { lines, isTerminal, early = '' } = await typed(io.signal);
    if (early !== '') io.stdout(sentences(`Typed before the log was open, and not taken: "${early}".`));
    io.stdout(session.begin());
    io.stdout(session.prompt());
    let typedEnd = false;
    for await (const line of lines) {
      if (!isTerminal) io.stdout(`${line}\n`);
      io.stdout(await session.answer(line));
      typedEnd = session.ended;
      if (typedEnd) break;
      io.stdout(session.prompt());
    }
    if (!typedEnd) io.stdout('\n');
    io.stdout(session.farewell());
    if (isTerminal || session.unsaved === 0) return 0;
    const were = session.unsaved === 1 ? 'was' : 'were';
    io.stderr(`upneck log: ${session.unsaved} of the lines ${were} not saved; see above\n`);
    return 1;
  } finally {
    await log.close();
  }
}

async function requireNames(values: { instrument?: string; model?: string; technician?: string }): Promise<void> {
  const { nameNeeds } = await import('../../logs/append-log.ts');
  for (const option of ['instrument', 'model', 'technician'] as const) {
    const needs = values[option] === undefined ? null : nameNeeds(values[option]);
    if (needs !== null) throw new WrongCall(`found --${option} "${values[option]}"; expected ${needs}`);
  }
}

/** The models file given, or the models.csv beside the log. */
async function knownModels(log: string, given: string | undefined, io: Io): Promise<readonly ModelSpec[]> {
  const { isModelsFile, shownPath } = await import('../../sources/find-logs.ts');
  const names = given === undefined ? await readdir(dirname(log)).catch(() => []) : [];
  const beside = names.sort().find((name) => isModelsFile(name));
  if (given === undefined && beside === undefined) return [];
  const path = given === undefined ? join(dirname(log), beside!) : resolve(io.cwd, given);
  const { readBytes } = await import('../../sources/read-text.ts');
  const { linesToUtf8 } = await import('../../logs/encoding.ts');
  const { readModels } = await import('../../logs/models.ts');
  const shown = given ?? shownPath(path, io.cwd);
  const { bytes } = await readBytes(path, shown, 'a models file');
  const { models, problems } = readModels(linesToUtf8(bytes).toString('utf8'), shown);
  if (problems.length > 0)
    throw new Error(`${shown}: the models file has errors:\n  ${problems.join('\n  ')}\nMend them and begin again`);
  return models;
}

async function adviceSource(
  { standard: file, usage: profile }: { standard?: string; usage?: string },
  { specs, io }: { readonly specs: readonly ModelSpec[]; readonly io: Io },
): Promise<AdviceSource | undefined> {
  if (file === undefined) return undefined;
  const { defaultUsage, readUsageFile } = await import('../../sources/read-usage.ts');
  const { readPlaying } = await import('../../policy/usage-files.ts');
  const { standard } = await readStandard(file, io.cwd);
  const read = await readUsageFile(profile ?? defaultUsage, io.cwd);
  return { standard, models: [...specs, ...standard.models], usage: readPlaying(read.bytes, read.path).usage };
}
