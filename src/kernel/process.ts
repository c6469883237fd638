// Entry point of the session's own process: runs the cells. See session.ts for the other end.
import { runInThisContext } from 'node:vm';
import { Worker } from 'node:worker_threads';
import { compile, CompileError, type Compiled } from './compile.ts';
import type { MimeBundle } from '../notebook/cell.ts';
import type { CellFailure } from '../notebook/output.ts';
import { cellGlobals } from './globals.ts';
import { Imports } from './imports.ts';
import { mimeBundle } from './mime.ts';
import { Output } from './output.ts';
import type { Ended, FromProcess, Prompt, ToProcess } from './protocol.ts';
import { describeFailure, frameName, inAuthorsPlaces, type Frames } from './stack.ts';
import { deferTimers } from './timers.ts';
import { Variables } from './variables.ts';

/** One execution of one cell. */
interface Run {
  readonly number: number;
  readonly cell: string;
  readonly source: string;
  readonly output: Output;
  /** Ends the run's pending top-level wait. */
  readonly fail: (error: unknown) => void;
  readonly end: (outcome: Ended) => void;
  isEnded: boolean;
  /** A rejection nobody handled, or an exception in a callback. */
  stray: { readonly error: unknown } | null;
}

/** Thrown where a cell is when the person stops it. */
class Interrupted extends Error {
  override readonly name = 'Interrupted';
}

/** How long an interrupted cell may take for its `finally` blocks, in milliseconds. */
const unwindTime = 100;
/** Runs whose places are remembered for the stacks of their functions. */
const rememberedRuns = 2000;

const flag = new Int32Array(new SharedArrayBuffer(4));
// Node's own timers, for the kernel.
const { setImmediate, setTimeout } = globalThis;
const control = new Worker(new URL('./control.mjs', import.meta.url), {
  workerData: { flag: flag.buffer },
  execArgv: [],
});
const variables = new Variables();
const runs = new Map<
  number,
  { readonly cell: string; readonly source: string; readonly compiled: Compiled; readonly run: Run }
>();
let latest: Run | null = null;
let imports = new Imports(process.cwd());

const send = (message: FromProcess): void => control.postMessage(message);

function runCell({ run: number, cell, source }: Extract<ToProcess, { type: 'run' }>): void {
  let fail!: (error: unknown) => void;
  const failed = new Promise<never>((_, reject) => (fail = reject));
  failed.catch(() => undefined);
  const output = new Output((bundle, shown) => send({ type: 'show', run: number, bundle: placed(bundle), shown }));
  const run: Run = {
    number,
    cell,
    source,
    output,
    fail,
    isEnded: false,
    stray: null,
    end: (outcome) => {
      if (run.isEnded) return;
      run.isEnded = true;
      flag[0] = 0;
      send({ type: 'ended', run: number, outcome });
    },
  };
  latest = run;
  const wait = (value: unknown): Promise<unknown> => Promise.race([value, failed]);
  void execute(run, wait);
}

async function execute(run: Run, wait: (value: unknown) => Promise<unknown>): Promise<void> {
  try {
    const compiled = await compile(run.source, (name) => variables.kind(name));
    for (const name of compiled.declared) variables.box(name).isConstant = compiled.constants.includes(name);
    runs.set(run.number, { cell: run.cell, source: run.source, compiled, run });
    runs.delete(run.number - rememberedRuns);
    const body = runInThisContext(compiled.code, { filename: frameName(run.number) }) as (
      runtime: object,
    ) => Promise<unknown>;
    const value = await body({
      box: (name: string) => variables.box(name),
      import: imports.into.bind(imports),
      load: imports.load.bind(imports),
      meta: imports.meta,
      flag,
      stop,
      wait,
    });
    // Rejections nobody handles are known one turn later.
    await new Promise((resolve) => setImmediate(resolve));
    if (run.stray) throw run.stray.error;
    const shown = mimeBundle(value);
    run.end({ status: 'ok', value: shown && placed(shown) });
  } catch (error) {
    run.end(
      error instanceof Interrupted ? { status: 'interrupted' } : { status: 'error', failure: failureOf(error, run) },
    );
  }
}

function stop(): never {
  throw new Interrupted('The cell was stopped');
}

function failureOf(error: unknown, run: Run): CellFailure {
  if (error instanceof CompileError) {
    const { line, column } = error.place;
    const at = { cell: run.cell, line, column };
    return { name: 'SyntaxError', message: error.message, at, sourceLine: lineOf(run.source, line), stack: [] };
  }
  return describeFailure(error, frames);
}

const frames: Frames = (number, place) => {
  const known = runs.get(number);
  const original = known?.compiled.original(place);
  if (!known || !original) return null;
  return { at: { cell: known.cell, ...original }, sourceLine: lineOf(known.source, original.line) };
};

/** What is shown of errors tells places in cells. */
function placed(bundle: MimeBundle): MimeBundle {
  const text = bundle['text/plain'];
  return typeof text === 'string' ? { ...bundle, 'text/plain': inAuthorsPlaces(text, frames) } : bundle;
}

function lineOf(source: string, line: number): string {
  return source.split(/\r\n|\n|\r/)[line - 1] ?? '';
}

function interrupt(number: number): void {
  send({ type: 'interrupted', run: number });
  const run = latest;
  if (run?.number !== number || run.isEnded) {
    flag[0] = 0;
    return;
  }
  run.fail(new Interrupted('The cell was stopped'));
  setTimeout(() => run.end({ status: 'interrupted' }), unwindTime);
}

/** An error no cell could catch: that of the cell it comes from, while it runs; else text under that cell. */
function stray(error: unknown): void {
  if (error instanceof Interrupted) return;
  const number = error instanceof Error ? /upneck-cell-(\d+)/.exec(error.stack ?? '')?.[1] : undefined;
  const run = runs.get(Number(number))?.run ?? latest;
  if (!run) return;
  if (!run.isEnded) {
    run.stray ??= { error };
    run.fail(error);
    return;
  }
  const { name, message, at } = describeFailure(error, frames);
  const place = at ? ` (line ${at.line})` : '';
  run.output.print('stderr', `After the cell had ended${place}: ${name}: ${message}\n`);
}

function receive(message: ToProcess): void {
  switch (message.type) {
    case 'start':
      imports = new Imports(message.folder);
      for (const [name, value] of Object.entries(message.values)) variables.box(name).d = value;
      return;
    case 'run':
      return runCell(message);
    case 'interrupt':
      return interrupt(message.run);
    case 'answer':
      answers.get(message.question)?.(message.text);
      answers.delete(message.question);
      return;
    case 'kill':
      return;
  }
}

/**
 * Sends what is printed to the latest run. Following each run through its callbacks would take Node's asynchronous
 * hooks, under which the engine cannot cut off a computation without ending the process.
 */
function capture(stream: NodeJS.WriteStream, kind: 'stdout' | 'stderr'): void {
  stream.write = (chunk: string | Uint8Array, encoding?: unknown, done?: unknown): boolean => {
    const text = typeof chunk === 'string' ? chunk : Buffer.from(chunk).toString();
    latest?.output.print(kind, text);
    const callback = typeof encoding === 'function' ? encoding : done;
    if (typeof callback === 'function') queueMicrotask(callback as () => void);
    return true;
  };
}

deferTimers();
capture(process.stdout, 'stdout');
capture(process.stderr, 'stderr');
process.on('unhandledRejection', stray);
process.on('uncaughtException', stray);
process.exit = (code?: number | string | null): never => {
  throw new Error(`process.exit(${code ?? ''}) was called; a cell cannot end its session`);
};
const answers = new Map<number, (text: string | null) => void>();
let questions = 0;
const put = (prompt: Prompt): Promise<string | null> => {
  const question = (questions += 1);
  send({ type: 'ask', run: latest?.number ?? 0, question, prompt });
  return new Promise((resolve) => answers.set(question, resolve));
};
const globals = cellGlobals((bundle, shown) => latest?.output.show(bundle, shown), put);
for (const [name, value] of Object.entries(globals)) variables.box(name).d = value;
control.on('message', receive);
// The first transformation starts esbuild's service; do it while nobody waits.
await compile('0', () => null);
send({ type: 'ready' });
