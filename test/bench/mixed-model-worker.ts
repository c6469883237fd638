/**
 * Times a fit in a process of its own, for its peak memory, after small fits that let the engine be compiled (the
 * reference packages are compiled beforehand): prints seconds, peak MB and the criterion as JSON. A fit of up to 10,000
 * readings is timed five times, as the reference's is, and the middle time given.
 */
import type { Columns } from '../../src/statistics/mixed/description.ts';
import { fitMixed } from '../../src/statistics/mixed/fit-mixed.ts';
import { cases } from './mixed-model-cases.ts';

const [name, readings] = [process.argv[2]!, Number(process.argv[3])];
const { data, description } = cases[name]!;
const columnsOf = (size: number): Columns =>
  Object.fromEntries(Object.entries(data(size)).map(([key, values]) => [key, Float64Array.from(values as number[])]));
const columns = columnsOf(readings);
const small = columnsOf(1000);
const cold = performance.now();
fitMixed(small, description);
const firstSeconds = (performance.now() - cold) / 1000;
for (let warm = 0; warm < 200; warm++) fitMixed(small, description);
const repeats = readings <= 1e4 ? 5 : 1;
let fit = fitMixed(small, description);
const before = process.cpuUsage();
const times: number[] = [];
for (let repeat = 0; repeat < repeats; repeat++) {
  const start = performance.now();
  fit = fitMixed(columns, description);
  times.push((performance.now() - start) / 1000);
}
const cpu = process.cpuUsage(before);
const seconds = times.sort((a, b) => a - b)[Math.floor(repeats / 2)]!;
console.log(
  JSON.stringify({
    seconds,
    firstSeconds,
    processorSeconds: (cpu.user + cpu.system) / 1e6 / repeats,
    peakMb: process.resourceUsage().maxRSS / 1024,
    criterion: fit.criterion,
    observations: fit.observations,
    converged: fit.convergence.converged,
  }),
);
