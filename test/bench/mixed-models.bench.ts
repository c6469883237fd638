import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { cases } from './mixed-model-cases.ts';

export const title = 'Mixed-model fits, against lme4 and nlme on the same data in the same run';

interface Timing {
  readonly seconds: number;
  /** The first fit of the process, of 1,000 readings, before anything is compiled; ours alone. */
  readonly firstSeconds?: number;
  readonly peakMb: number;
  readonly criterion: number;
}

const sizes: readonly (readonly [name: keyof typeof cases, readings: number])[] = [
  ['equal', 1e3],
  ['equal', 1e4],
  ['equal', 1e5],
  ['equal', 1e6],
  ['varied', 1e5],
  ['varied', 1e6],
  ['vector', 1e3],
  ['vector', 1e4],
  ['vector', 1e5],
  ['vector', 1e6],
  ['contrasts', 1e5],
  ['contrasts', 1e6],
];

/** The reference takes minutes beyond this many readings with vector effects. */
const mostForReference = (name: string): number => (name === 'vector' ? 1e5 : 1e6);

function run(command: string, options: readonly string[]): Timing {
  const output = execFileSync(command, options, { encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] });
  return JSON.parse(output.trim().split('\n').at(-1)!) as Timing;
}

function hasR(): boolean {
  try {
    execFileSync('Rscript', ['-e', 'library(lme4); library(nlme)'], { stdio: 'ignore' });
    return true;
  } catch {
    return false;
  }
}

const worker = join(import.meta.dirname, 'mixed-model-worker.ts');
const script = join(import.meta.dirname, '..', 'reference', 'time-mixed-model.R');

function ours(name: string, readings: number): Timing {
  return run(process.execPath, ['--import', 'tsx', worker, name, String(readings)]);
}

const middle = (timings: readonly Timing[]): Timing =>
  [...timings].sort((a, b) => a.seconds - b.seconds)[timings.length >> 1]!;

/** A reference fit; `failed` when the package gives up on the data. */
function reference(options: readonly string[]): Timing | 'failed' {
  try {
    return run('Rscript', [script, ...options]);
  } catch {
    return 'failed';
  }
}

const show = (timing: Timing | 'failed' | null): string =>
  timing === null
    ? 'not run'
    : timing === 'failed'
      ? 'no convergence'
      : `${timing.seconds.toPrecision(3)} s, ${timing.peakMb.toFixed(0)} MB`;

/**
 * Markdown table lines. Each fit runs in a fresh process, after small fits that let our engine be compiled, timed from columns
 * in memory to estimates with standard errors and degrees of freedom (the reference packages give none); ours is the median
 * of three, taken before and after the reference.
 */
export async function bench(): Promise<string[]> {
  await Promise.resolve();
  const hasReference = hasR();
  const firsts: number[] = [];
  const folder = mkdtempSync(join(tmpdir(), 'mixed-models-bench-'));
  const lines = [
    '| model | readings | this engine | lme4 | nlme | faster than lme4 | than nlme | criterion less lme4’s |',
    '|---|---|---|---|---|---|---|---|',
  ];
  try {
    for (const [name, readings] of sizes) {
      const { name: label, lme4, nlme, data } = cases[name]!;
      const timings = [ours(name, readings)];
      let [byLme4, byNlme]: (Timing | 'failed' | null)[] = [null, null];
      if (hasReference && readings <= mostForReference(name)) {
        const columns = data(readings);
        const file = join(folder, 'data.csv');
        const keys = Object.keys(columns);
        const rows = Array.from(columns.y as number[], (_, row) => keys.map((key) => columns[key]![row]).join(','));
        writeFileSync(file, `${keys.join(',')}\n${rows.join('\n')}\n`);
        byLme4 = reference([file, 'lme4', lme4]);
        timings.push(ours(name, readings));
        if (nlme) byNlme = reference([file, 'nlme', ...nlme]);
      }
      while (timings.length < 3) timings.push(ours(name, readings));
      const own = middle(timings);
      firsts.push(...timings.flatMap(({ firstSeconds }) => firstSeconds ?? []));
      const ratio = (other: Timing | 'failed' | null | undefined): string =>
        other && other !== 'failed' ? `${(other.seconds / own.seconds).toFixed(1)} ×` : '';
      const difference = byLme4 && byLme4 !== 'failed' ? (own.criterion - byLme4.criterion).toExponential(1) : '';
      lines.push(
        `| ${label} | ${readings.toLocaleString('en')} | ${show(own)} | ${show(byLme4 ?? null)} | ${show(byNlme ?? null)} | ${ratio(byLme4)} | ${ratio(byNlme)} | ${difference} |`,
      );
    }
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  const first = firsts.sort((a, b) => a - b)[firsts.length >> 1]!;
  lines.push(
    '',
    `Before its engine is compiled a process takes longer: its first fit, of 1,000 readings, took ${first.toPrecision(2)} s (middle of ${firsts.length}).`,
  );
  if (!hasReference) lines.push('', 'Rscript with lme4 and nlme was not found: no comparison was made.');
  return lines;
}
