import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { fitMixed } from '../../src/statistics/mixed/fit-mixed.ts';
import { cases } from '../bench/mixed-model-cases.ts';
import { needs } from '../real-clients.ts';

const r = needs('r');
const folder = mkdtempSync(join(tmpdir(), 'lme4-'));
afterAll(() => rmSync(folder, { recursive: true }));

const script = `
suppressMessages(library(lme4))
arguments <- commandArgs(trailingOnly = TRUE)
data <- read.csv(arguments[1])
for (column in setdiff(names(data), c("x", "y"))) data[[column]] <- factor(data[[column]])
control <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-9, maxfun = 1e5), calc.derivs = FALSE)
fit <- lmer(as.formula(arguments[2]), data, control = control)
cat(sprintf("%.17g\\n", c(REMLcrit(fit), sigma(fit), fixef(fit), sqrt(diag(as.matrix(vcov(fit)))))))
`;

/** What lme4 finds: REML criterion, sigma, fixed effects, their standard errors. */
function lme4(name: string): number[] {
  const { data, lme4: formula } = cases[name]!;
  const columns = data(2000);
  const keys = Object.keys(columns);
  const rows = Array.from(columns.y as number[], (_, row) => keys.map((key) => columns[key]![row]).join(','));
  const [file, program] = [join(folder, `${name}.csv`), join(folder, 'fit.R')];
  writeFileSync(file, `${keys.join(',')}\n${rows.join('\n')}\n`);
  writeFileSync(program, script);
  return execFileSync(r.path, [program, file, formula], { encoding: 'utf8' }).trim().split('\n').map(Number);
}

// The reference is R's lme4 as installed, run on the same columns. Its optimiser may stop a little early, never below the minimum.
describe.skipIf(!r.found)('the engine beside lme4', () => {
  test.each(['equal', 'varied', 'vector', 'contrasts'])('finds what lme4 finds: %s', (name) => {
    const { data, description } = cases[name]!;
    const fit = fitMixed(data(2000), description);
    const [criterion, sigma, ...rest] = lme4(name);
    expect(fit.criterion).toBeLessThanOrEqual(criterion! + 1e-9 * Math.abs(criterion!));
    expect(Math.abs(fit.criterion / criterion! - 1)).toBeLessThan(1e-6);
    expect(Math.abs(fit.sigma / sigma! - 1)).toBeLessThan(1e-4);
    // Levels of a factor come in lme4's order of names, ours in order of appearance.
    const sorted = (values: readonly number[]): number[] => [...values].sort((a, b) => a - b);
    const ours = [fit.fixed.map(({ estimate }) => estimate), fit.fixed.map(({ standardError }) => standardError)];
    const theirs = [rest.slice(0, fit.fixed.length), rest.slice(fit.fixed.length)];
    ours.forEach((values, kind) => {
      const expected = sorted(theirs[kind]!);
      expect(values).toHaveLength(expected.length);
      sorted(values).forEach((value, at) => expect(Math.abs(value / expected[at]! - 1)).toBeLessThan(1e-5));
    });
  });
});
