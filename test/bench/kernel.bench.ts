import { spawnSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { startSession, type Session } from '../../src/kernel/session.ts';

export const title = 'Command line and kernel';

const launcher = resolve('src/clients/upneck.mjs');

/** Median time of a whole process, in milliseconds. */
function processTime(args: string[], cwd: string, times: number): number {
  const taken = Array.from({ length: times }, () => {
    const start = performance.now();
    const { status, stderr } = spawnSync(process.execPath, args, { cwd, encoding: 'utf8' });
    if (status !== 0) throw new Error(`node ${args.join(' ')} ended with ${status}: ${stderr}`);
    return performance.now() - start;
  });
  return median(taken);
}

function median(values: number[]): number {
  return values.toSorted((a, b) => a - b)[Math.floor(values.length / 2)]!;
}

async function timed(work: () => Promise<unknown>): Promise<number> {
  const start = performance.now();
  await work();
  return performance.now() - start;
}

async function value(session: Session, id: string, source: string): Promise<void> {
  const outcome = await session.run({ id, source }, () => undefined);
  if (outcome.status !== 'ok') throw new Error(`the cell ${source} did not end well`);
}

interface Timed {
  readonly start: number;
  readonly trip: number;
  readonly memory: number;
}

/** Our kernel beside Debian's ipykernel, both through Python's jupyter_client (kernel-round-trip.py), in one run. */
function besideAnother(): string[] {
  const python = '/usr/bin/python3';
  if (spawnSync(python, ['-c', 'import ipykernel, jupyter_client']).status !== 0)
    return ['Our kernel beside ipykernel: left out, as ipykernel and jupyter_client for /usr/bin/python3 are missing.'];
  const data = mkdtempSync(join(tmpdir(), 'upneck-bench-'));
  const env = { ...process.env, JUPYTER_DATA_DIR: data };
  spawnSync(process.execPath, [launcher, 'kernel', 'install', '--user'], { env });
  const args = [resolve('test/bench/kernel-round-trip.py'), 'python3', 'upneck'];
  const { status, stdout, stderr } = spawnSync(python, args, { cwd: data, env, encoding: 'utf8' });
  if (status !== 0) throw new Error(`kernel-round-trip.py ended with ${status}: ${stderr}`);
  const { python3: other, upneck } = JSON.parse(stdout) as Record<'python3' | 'upneck', Timed>;
  const row = (what: string, measure: keyof Timed): string => {
    const [ours, theirs] = [upneck[measure], other[measure]];
    return `| ${what} | ${ours.toFixed(1)} | ${theirs.toFixed(1)} | ${(ours / theirs).toFixed(2)} |`;
  };
  return [
    '| through jupyter_client | ours | ipykernel (reference) | ratio |',
    '|---|--:|--:|--:|',
    row('start to first result, ms', 'start'),
    row('round trip of `1 + 1`, median of 200, ms', 'trip'),
    row('resident memory of all its processes, MB', 'memory'),
  ];
}

/** Cold starts and cell costs; the reference is plain Node in the same minute on the same machine. */
export async function bench(): Promise<string[]> {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-bench-'));
  writeFileSync(join(folder, 'trivial.lit.md'), 'Text.\n\n```ts\n1 + 1\n```\n');
  const node = processTime(['-e', '0'], folder, 7);
  const help = processTime([launcher, '--help'], folder, 7);
  const trivial = processTime([launcher, 'run', 'trivial.lit.md'], folder, 5);

  const starts: number[] = [];
  for (let time = 0; time < 5; time += 1) {
    const started = startSession({ folder });
    starts.push(await timed(() => value(started, 'a', '1 + 1')));
    await started.dispose();
  }

  const session = startSession({ folder });
  await value(session, 'a', '1');
  const trips: number[] = [];
  for (let time = 0; time < 200; time += 1) trips.push(await timed(() => value(session, 'a', '1 + 1')));
  // A notebook that grows: each cell declares a name and a function, and uses those of the cell before.
  const growing: number[] = [];
  await value(session, 'c0', 'const n0 = 0; const f0 = (): number => n0;');
  for (let cell = 1; cell <= 1000; cell += 1) {
    const source = `const n${cell} = n${cell - 1} + 1; const f${cell} = (): number => f${cell - 1}.length + n${cell}; f${cell}()`;
    growing.push(await timed(() => value(session, `c${cell}`, source)));
  }
  await session.dispose();

  const row = (what: string, ms: number, reference: number): string =>
    `| ${what} | ${ms.toFixed(1)} | ${(ms / reference).toFixed(2)} |`;
  const trip = median(trips);
  return [
    ...besideAnother(),
    '',
    '| what | ms | ratio |',
    '|---|--:|--:|',
    row('`node -e 0` (reference of the next three)', node, node),
    row('`upneck --help`', help, node),
    row('`upneck run` of a notebook with one cell', trivial, node),
    row('session start to first result', median(starts), node),
    row('round trip of `1 + 1`, median of 200 (reference of the next two)', trip, trip),
    row('a cell among the first 100, median', median(growing.slice(0, 100)), trip),
    row('a cell among the last 100 of 1,000, median', median(growing.slice(-100)), trip),
  ];
}
