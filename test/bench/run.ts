/**
 * Runs the benchmarks of this folder and prints Markdown: `npm run bench [-- PART_OF_A_NAME]`.
 *
 * A benchmark is a file `NAME.bench.ts` that exports `title` and `bench()`, which gives the lines of a Markdown table.
 * Times mean something only as ratios to the reference in the same table, measured in the same run.
 */
import { readdirSync } from 'node:fs';
import { availableParallelism, cpus, totalmem } from 'node:os';

interface Benchmark {
  readonly title: string;
  readonly bench: () => Promise<string[]>;
}

const wanted = process.argv[2] ?? '';
const names = readdirSync(import.meta.dirname)
  .filter((name) => name.endsWith('.bench.ts') && name.slice(0, -'.bench.ts'.length).includes(wanted))
  .sort();
if (names.length === 0) {
  console.error(`Found no benchmark whose name holds "${wanted}" in test/bench`);
  process.exit(2);
}

const processor = cpus()[0]?.model.trim() ?? 'unknown processor';
console.log('# Benchmarks\n');
console.log(
  `Node ${process.versions.node}, ${process.platform}, ${availableParallelism()} × ${processor}, ${Math.round(totalmem() / 2 ** 30)} GB of memory.`,
);
for (const name of names) {
  const { title, bench } = (await import(`./${name}`)) as Benchmark;
  console.log(`\n## ${title}\n`);
  console.log((await bench()).join('\n'));
}
