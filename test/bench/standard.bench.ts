import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, readdirSync, renameSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { text } from 'node:stream/consumers';
import { makeShop } from '../../data/demo/make-shop.ts';

export const title = 'From logs to the house standard, against csv-parse alone on the same files';

/**
 * A folder of logs of invented shops, as many as it takes for that many readings, every instrument under a name of its
 * own; kept in the system's folder for temporary files for the next run.
 */
function shops(readings: number): { folder: string; readings: number } {
  const name = `upneck-bench-shops-${readings}`;
  const kept = readdirSync(tmpdir()).find((entry) => entry.startsWith(`${name}-`));
  if (kept !== undefined) return { folder: join(tmpdir(), kept), readings: Number(kept.slice(name.length + 1)) };
  const growing = mkdtempSync(join(tmpdir(), 'upneck-bench-growing-'));
  let made = 0;
  for (let seed = 1; made < readings; seed++) {
    const { files, truth } = makeShop(seed, { planted: 'nothing' });
    for (const file of truth.files) made += file.readings;
    for (const [path, content] of Object.entries(files)) {
      // Bytes as they are: some logs are Windows-1252.
      const bytes = Buffer.from(content as string).toString('latin1');
      const renamed = path === 'models.csv' ? bytes : bytes.replaceAll(/\bJ(?=\d{4}\b)/g, `S${seed}-J`);
      writeFileSync(join(growing, path === 'models.csv' ? path : `${seed}-${path}`), Buffer.from(renamed, 'latin1'));
    }
  }
  const folder = join(tmpdir(), `${name}-${made}`);
  renameSync(growing, folder);
  return { folder, readings: made };
}

interface Ended {
  /** From start to exit. */
  readonly seconds: number;
  /** Of the processors, user and system: what the work costs even where other work slows it down. */
  readonly cpuSeconds: number;
  readonly peakMb: number;
}

/** Prints the process's resource usage as its last line on stderr. */
const weigh =
  'data:text/javascript,process.on("exit",()=>process.stderr.write("\\n"+JSON.stringify(process.resourceUsage())+"\\n"))';

/** Runs Node to its end. */
async function measure(args: string[]): Promise<Ended> {
  const start = performance.now();
  const child = spawn(process.execPath, ['--import', weigh, ...args], { stdio: ['ignore', 'ignore', 'pipe'] });
  const [messages, [code]] = await Promise.all([text(child.stderr), once(child, 'exit') as Promise<[number | null]>]);
  if (code !== 0) throw new Error(`node ${args.join(' ')} ended with ${code}: ${messages}`);
  const seconds = (performance.now() - start) / 1000;
  const usage = JSON.parse(messages.trimEnd().split('\n').at(-1)!) as NodeJS.ResourceUsage;
  const cpuSeconds = (usage.userCPUTime + usage.systemCPUTime) / 1e6;
  return { seconds, cpuSeconds, peakMb: usage.maxRSS / 1024 };
}

/** csv-parse as fast as it goes, file after file: array records, counted and dropped. */
const parseAlone = `
import { createReadStream, readdirSync } from 'node:fs';
import { finished } from 'node:stream/promises';
import { parse } from 'csv-parse';
const folder = process.argv[1];
let records = 0;
for (const name of readdirSync(folder)) {
  const delimiter = name.includes('tech-c') ? ';' : name.endsWith('.tsv') ? '\\t' : ',';
  const parser = createReadStream(folder + '/' + name, { highWaterMark: 1 << 19 }).pipe(parse({ delimiter, bom: true }));
  parser.on('data', () => records++);
  await finished(parser);
}
if (records === 0) process.exit(1);
`;

/** Markdown table lines: one row a size, each a process of its own, start-up included. */
export async function bench(): Promise<string[]> {
  const out = mkdtempSync(join(tmpdir(), 'upneck-bench-out-'));
  const lines = [
    '| readings | logs | csv-parse alone, processor time | logs to standard, processor time | ratio | from start to exit | peak memory |',
    '|---:|---:|---:|---:|---:|---:|---:|',
  ];
  try {
    for (const wanted of [10_000, 1_000_000]) {
      const { folder, readings } = shops(wanted);
      const alone = await measure(['--input-type=module', '--eval', parseAlone, folder]);
      const own = await measure([resolve('src/clients/upneck.mjs'), 'standard', folder, '--out', out]);
      const files = readdirSync(folder);
      const mb = files.reduce((sum, name) => sum + statSync(join(folder, name)).size, 0) / 1e6;
      lines.push(
        `| ${readings.toLocaleString('en-GB')} | ${files.length - 1} files, ${mb.toFixed(1)} MB | ${alone.cpuSeconds.toFixed(1)} s | ` +
          `${own.cpuSeconds.toFixed(1)} s | ${(own.cpuSeconds / alone.cpuSeconds).toFixed(1)} | ${own.seconds.toFixed(1)} s | ${own.peakMb.toFixed(0)} MB |`,
      );
    }
  } finally {
    rmSync(out, { recursive: true });
  }
  return lines;
}
