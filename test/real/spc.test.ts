import { spawnSync } from 'node:child_process';
import { describe, expect, test } from 'vitest';
import { controlEwma } from '../../src/control/control-chart.ts';
import { averageRunLength } from '../../src/statistics/charts/average-run-length.ts';
import { needs } from '../real-clients.ts';

const spc = needs('r-spc');

/** Schemes of Lucas & Saccucci (1990), Technometrics 32, table 3, and shifts of the mean in sigma. */
const schemes = [
  [0.05, 2.615],
  [0.1, 2.814],
  [0.2, 2.962],
  [0.4, 3.054],
] as const;
const shifts = [0, 0.5, 1, 2] as const;
const limits = ['steady', 'varying'] as const;

/** Average run lengths by R's spc (Knoth; integral equations), by shift: steady limits, or those that widen at first. */
function byR(lambda: number, width: number, limit: (typeof limits)[number]): number[] {
  const kind = limit === 'steady' ? 'fix' : 'vacl';
  const call = `library(spc); cat(sapply(c(${shifts.join(',')}), function(m) xewma.arl(${lambda}, ${width}, m, sided = "two", limits = "${kind}", r = 60)), sep = "\\n")`;
  const { status, stdout, stderr } = spawnSync(spc.path, ['-e', call], { encoding: 'utf8' });
  expect(status, stderr).toBe(0);
  return stdout.trim().split('\n').map(Number);
}

describe.skipIf(!spc.found)("averageRunLength and R's spc", () => {
  test.each(schemes.flatMap(([lambda, width]) => limits.map((limit) => [lambda, width, limit] as const)))(
    'agree on an EWMA with lambda %f, width %f and %s limits',
    { timeout: 60_000 },
    (lambda, width, limit) => {
      byR(lambda, width, limit).forEach((expected, at) => {
        const scheme = { ewma: { lambda, width, limits: limit } };
        const { mean, standardError } = averageRunLength(scheme, { shift: shifts[at]!, seed: 1 + at, runs: 10_000 });
        expect(standardError).toBeLessThan(0.012 * expected);
        expect(Math.abs(mean - expected), `at a shift of ${shifts[at]}`).toBeLessThan(4 * standardError);
      });
    },
  );

  // What control-chart.ts says of its own charts: 2 900 instruments between false alarms, 15 and 4 until shifts are seen.
  test('agree on the charts of the bench', { timeout: 60_000 }, () => {
    const { lambda, width } = controlEwma;
    byR(lambda, width, 'varying').forEach((expected, at) => {
      const [shift, runs] = [shifts[at]!, shifts[at] === 0 ? 2000 : 10_000];
      const { mean, standardError } = averageRunLength({ ewma: controlEwma }, { shift, seed: 31 + at, runs });
      expect(Math.abs(mean - expected), `at a shift of ${shift}`).toBeLessThan(4 * standardError);
      if (shift === 0) expect(Math.round(expected / 100)).toBe(29);
      if (shift === 1) expect(Math.round(expected)).toBe(15);
      if (shift === 2) expect(Math.round(expected)).toBe(4);
    });
  });

  // One value beyond three sigma is an EWMA of lambda 1: no memory.
  test('agree on single values beyond three sigma', () => {
    byR(1, 3, 'steady').forEach((expected, at) => {
      const { mean, standardError } = averageRunLength(
        { rules: [1] },
        { shift: shifts[at]!, seed: 21 + at, runs: 10_000 },
      );
      expect(Math.abs(mean - expected)).toBeLessThan(4 * standardError);
    });
  });
});
