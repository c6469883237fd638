import { createReadStream, createWriteStream, mkdtempSync, rmSync, statSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { once } from 'node:events';
import { finished } from 'node:stream/promises';
import { parse } from 'csv-parse';
import { readLogs } from '../../src/sources/read-logs.ts';

export const title = 'Rows imported per second, against csv-parse alone on the same file';

/** Writes a long log; numbers from a fixed formula, so that every run reads the same bytes. */
async function writeLog(path: string, rows: number): Promise<void> {
  const out = createWriteStream(path);
  out.write(
    'instrument,model,string,fret,cents,open_cents,pass,measured_at,technician,note,saddle_mm,gauge_mm,winding\r\n',
  );
  for (let row = 0; row < rows; row++) {
    const instrument = Math.floor(row / 48);
    const string = (Math.floor(row / 8) % 6) + 1;
    const cents = (((row * 7919) % 201) / 100 - 1).toFixed(2);
    const day = String((instrument % 28) + 1).padStart(2, '0');
    const minute = String(row % 60).padStart(2, '0');
    const note = row % 50 === 0 ? '"checked twice, ""as is"""' : '';
    const more = out.write(
      `I-${instrument},Model ${instrument % 12},${string},${row % 2 === 0 ? 12 : 17},${cents},0.${row % 7},${row % 8 < 4 ? 0 : 1},` +
        `2026-03-${day}T09:${minute}:00Z,hand-${instrument % 3},${note},${row % 8 < 4 ? 0 : 0.25},0.${string}${row % 5},${string < 4 ? 'plain' : 'wound'}\r\n`,
    );
    if (!more) await once(out, 'drain');
  }
  out.end();
  await finished(out);
}

/** csv-parse as fast as it goes: array records from a stream, counted and dropped. */
async function parseAlone(path: string): Promise<number> {
  let records = 0;
  const parser = createReadStream(path, { highWaterMark: 1 << 19 }).pipe(parse());
  parser.on('data', () => records++);
  await finished(parser);
  return records - 1;
}

async function timed<T>(work: () => Promise<T>): Promise<{ seconds: number; peakMb: number; value: T }> {
  globalThis.gc?.();
  let peak = process.memoryUsage().rss;
  const watch = setInterval(() => (peak = Math.max(peak, process.memoryUsage().rss)), 20);
  const start = performance.now();
  const value = await work();
  const seconds = (performance.now() - start) / 1000;
  peak = Math.max(peak, process.memoryUsage().rss);
  clearInterval(watch);
  return { seconds, peakMb: peak / 2 ** 20, value };
}

const median = (values: number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1]!;

/** Markdown table lines: one row a size, times as medians of three runs of each, taken in turn. */
export async function bench(): Promise<string[]> {
  const folder = mkdtempSync(join(tmpdir(), 'import-bench-'));
  const lines = [
    '| rows | MB | csv-parse alone | import | ratio | import, rows/s | peak memory |',
    '|---:|---:|---:|---:|---:|---:|---:|',
  ];
  try {
    for (const rows of [10_000, 100_000, 1_000_000]) {
      const path = join(folder, `${rows}.csv`);
      await writeLog(path, rows);
      const alone: number[] = [];
      const ours: number[] = [];
      let peakMb = 0;
      for (let round = 0; round < 3; round++) {
        const reference = await timed(() => parseAlone(path));
        const own = await timed(async () => (await readLogs([path])).totals);
        if (reference.value !== rows || own.value.readings !== rows)
          throw new Error(`Lost rows: ${JSON.stringify(own.value)}`);
        alone.push(reference.seconds);
        ours.push(own.seconds);
        peakMb = Math.max(peakMb, own.peakMb);
      }
      const [a, b] = [median(alone), median(ours)];
      const mb = (statSync(path).size / 1e6).toFixed(1);
      lines.push(
        `| ${rows.toLocaleString('en-GB')} | ${mb} | ${a.toFixed(2)} s | ${b.toFixed(2)} s | ${(b / a).toFixed(2)} | ` +
          `${Math.round(rows / b / 1000)} 000 | ${peakMb.toFixed(0)} MB |`,
      );
      rmSync(path);
    }
  } finally {
    rmSync(folder, { recursive: true });
  }
  return lines;
}
