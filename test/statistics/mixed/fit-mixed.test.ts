import { describe, expect, test } from 'vitest';
import type { MixedDescription } from '../../../src/statistics/mixed/description.ts';
import { fitMixed, type MixedFit } from '../../../src/statistics/mixed/fit-mixed.ts';
import { referenceColumns, referenceJson, relativeError } from '../reference-data.ts';

interface Reference {
  readonly criterion: string;
  readonly logLik: string;
  readonly sigma: string;
  readonly varcomp: readonly { readonly group: string; readonly var: string; readonly sd: string }[];
  readonly fixef: readonly Readonly<Record<'estimate' | 'se' | 't' | 'satterthwaiteDf' | 'p', string>>[];
  readonly ranef: readonly Readonly<Record<'group' | 'level' | 'term' | 'blup' | 'condSD', string>>[];
}

/** The models of data/reference/mixed-models.json; grouping columns stand in the order of the reference's level names. */
const models: Record<string, { data: string; description: MixedDescription }> = {
  sleepstudy_corr: {
    data: 'sleepstudy',
    description: {
      response: 'Reaction',
      fixed: [{ numeric: 'Days' }],
      random: [{ group: ['Subject'], effects: ['1', 'Days'] }],
    },
  },
  sleepstudy_uncorr: {
    data: 'sleepstudy',
    description: {
      response: 'Reaction',
      fixed: [{ numeric: 'Days' }],
      random: [{ group: ['Subject'], effects: ['1', 'Days'], covariance: 'independent' }],
    },
  },
  dyestuff: { data: 'dyestuff', description: intercepts('Yield', ['Batch']) },
  dyestuff2: { data: 'dyestuff2', description: intercepts('Yield', ['Batch']) },
  pastes: { data: 'pastes', description: intercepts('strength', ['sample'], ['batch']) },
  penicillin: { data: 'penicillin', description: intercepts('diameter', ['plate'], ['sample']) },
  oats: {
    data: 'oats',
    description: {
      ...intercepts('yield', ['Block'], ['Variety', 'Block']),
      fixed: [{ numeric: 'nitro' }, { categorical: 'Variety' }],
    },
  },
};

function intercepts(response: string, ...groups: string[][]): MixedDescription {
  return { response, fixed: [], random: groups.map((group) => ({ group, effects: ['1'] })) };
}

const references = (referenceJson('mixed-models') as { fits: Record<string, Reference> }).fits;
const cases = Object.entries(models).flatMap(([name, model]) =>
  (['REML', 'ML'] as const).map((method) => ({ name, method, ...model })),
);

// data/reference/mixed-models.source.md; tolerances are those asked of the engine, the agreement is far closer.
describe.each(cases)('fitMixed $name by $method', ({ name, method, data, description }) => {
  const reference = references[`${name}_${method.toLowerCase()}`]!;
  const fit: MixedFit = fitMixed(referenceColumns(data), description, { method });
  const termOf = (effect: string): string => (effect === '1' ? '(Intercept)' : effect);

  test('agrees with the reference in criterion and log-likelihood', () => {
    expect(Math.abs(fit.criterion - Number(reference.criterion))).toBeLessThan(1e-6);
    expect(Math.abs(fit.logLikelihood - Number(reference.logLik))).toBeLessThan(1e-6);
  });

  test('agrees with the reference in fixed effects, standard errors and Satterthwaite df', () => {
    expect(fit.fixed).toHaveLength(reference.fixef.length);
    fit.fixed.forEach((found, k) => {
      const expected = reference.fixef[k]!;
      expect(relativeError(found.estimate, Number(expected.estimate))).toBeLessThan(1e-5);
      expect(relativeError(found.standardError, Number(expected.se))).toBeLessThan(1e-5);
      expect(relativeError(found.t, Number(expected.t))).toBeLessThan(1e-5);
      expect(relativeError(found.df, Number(expected.satterthwaiteDf))).toBeLessThan(1e-3);
      expect(relativeError(found.p, Number(expected.p))).toBeLessThan(0.01);
      expect(Math.sqrt(fit.fixedCovariance[k]![k]!)).toBeCloseTo(found.standardError, 10);
    });
  });

  test('agrees with the reference in standard deviations, exactly where they are 0', () => {
    expect(relativeError(fit.sigma, Number(reference.sigma))).toBeLessThan(1e-4);
    let compared = 0;
    for (const { group, effects, standardDeviations } of fit.random)
      effects.forEach((effect, e) => {
        const expected = reference.varcomp.find((row) => row.group === group && row.var === termOf(effect));
        if (!expected) return;
        compared++;
        if (Number(expected.sd) === 0) expect(standardDeviations[e]).toBe(0);
        else expect(relativeError(standardDeviations[e]!, Number(expected.sd))).toBeLessThan(1e-4);
      });
    expect(compared).toBe(reference.varcomp.filter(({ sd }) => sd !== undefined).length);
  });

  test('agrees with the reference in conditional modes and their standard deviations', () => {
    let compared = 0;
    for (const { group, effects, levels, modes, standardDeviations } of fit.modes())
      effects.forEach((effect, e) => {
        levels.forEach((level, k) => {
          const expected = reference.ranef.find(
            (row) => row.group === group && row.level === level && row.term === termOf(effect),
          )!;
          compared++;
          expect(Math.abs(modes[e]![k]! - Number(expected.blup))).toBeLessThan(1e-4 * fit.sigma);
          expect(Math.abs(standardDeviations[e]![k]! - Number(expected.condSD))).toBeLessThan(1e-4 * fit.sigma);
        });
      });
    expect(compared).toBe(reference.ranef.length);
  });

  test('has converged by its gradient', () => {
    expect(fit.convergence.converged).toBe(true);
    expect(fit.convergence.gradient).toBeLessThan(1e-6);
  });
});
