/**
 * Times one fit in a process of its own, for its peak memory, after a small fit that lets the engine be compiled (the
 * reference packages are compiled beforehand): prints seconds, peak MB and the criterion as JSON.
 */
import { fitMixed } from '../../src/statistics/mixed/fit-mixed.ts';
import { cases } from './mixed-model-cases.ts';

const [name, readings] = [process.argv[2]!, Number(process.argv[3])];
const { data, description } = cases[name]!;
const columns = Object.fromEntries(
  Object.entries(data(readings)).map(([key, values]) => [key, Float64Array.from(values as number[])]),
);
for (let warm = 0; warm < 3; warm++) fitMixed(data(1000), description);
globalThis.gc?.();
const before = process.cpuUsage();
const start = performance.now();
const fit = fitMixed(columns, description);
const seconds = (performance.now() - start) / 1000;
const cpu = process.cpuUsage(before);
console.log(
  JSON.stringify({
    seconds,
    processorSeconds: (cpu.user + cpu.system) / 1e6,
    peakMb: process.resourceUsage().maxRSS / 1024,
    criterion: fit.criterion,
    observations: fit.observations,
    converged: fit.convergence.converged,
  }),
);
