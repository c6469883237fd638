import { kappa } from '../acoustics/frets.ts';
import type { BlockSums, Covariate } from '../sources/block-sums.ts';
import { tQuantile } from '../statistics/distributions.ts';
import type { Combination, CombinedEstimate } from '../statistics/mixed/combine.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { type Cell, nutCombination, riseCombination } from './cell-effects.ts';
import { type CentredCovariate, covariateTerm } from './covariate-effects.ts';
import type { Fault } from './fault-screen.ts';
import { rawRises, type RawRise } from './raw-rises.ts';
import type { Weights } from './robust-weights.ts';
import type { Spread, StringMoments } from './string-moments.ts';
import type { CellTrend, CovariateTrend, Estimate, Hand, ModelTrend, Trend } from './trend.ts';
import { type Identified, technicianTerm } from './trend-model.ts';
import { trendNotes } from './trend-notes.ts';
import { deviationOf } from './weigh-and-fit.ts';

/** The most strings that models.csv allows. */
const mostStrings = 12;

/** What a settled fit of the reading-level model leaves to report. */
export interface FittedTrend {
  readonly sums: BlockSums;
  readonly fit: MixedFit;
  readonly identified: Identified;
  readonly covariates: readonly CentredCovariate[];
  /** Covariates asked for that the readings do not have, or that never differ. */
  readonly silent: readonly Covariate[];
  readonly cells: ReadonlyMap<number, readonly Cell[]>;
  readonly spread: Spread;
  readonly moments: readonly (readonly StringMoments[])[];
  readonly weights: Weights;
  readonly faults: readonly Fault[];
}

/** The trend in words and numbers: estimates of models, strings, hands and covariates, widened by what the weights cost. */
export function reportTrend(fitted: FittedTrend): Trend {
  const { sums, fit, identified, cells, spread, weights, faults, covariates, silent } = fitted;
  // One call for all, since every call works out how the errors hang on the variances.
  const asked = new Combinations();
  const shop = asked.add([{ fixed: { rise: 1 } }]);
  const ofModels = [...cells].map(([model, strings]) => ({
    model,
    strings,
    nut: asked.add(identified.nut ? [nutCombination(model, identified)] : []),
    rises: asked.add(strings.map(({ string }) => riseCombination(model, string, fitted))),
  }));
  const unreadStrings = unreadCells(cells);
  const unreadNut = asked.add(identified.nut ? [nutCombination('unread', identified)] : [])[0];
  const unreadRises = asked.add(
    unreadStrings.map(({ string, isUnread }) => riseCombination('unread', string, { ...fitted, isUnread })),
  );
  const hands = identified.technicians ? asked.add(handCombinations(sums, 'rise')) : [];
  const handNuts = identified.technicianNuts ? asked.add(handCombinations(sums, 'nut')) : [];
  const perUnit = asked.add(covariates.map(({ name }) => ({ fixed: { [covariateTerm(name)]: 1 } })));
  const combined = fit.combine(asked.all);
  const estimates = combined.estimates.map((one) => widened(one, weights.varianceFactor));
  const covariance = (a: number, b: number): number => combined.covariance[a]![b]! * weights.varianceFactor;

  const covarianceOf = (asked: readonly (number | undefined)[]): number[][] =>
    asked.map((a) => asked.map((b) => (a === undefined || b === undefined ? 0 : covariance(a, b))));

  const raw = rawRises(sums);
  const models = ofModels.map(({ model, strings, nut: [nutAt], rises }): ModelTrend => {
    const nut = nutAt === undefined ? none : estimates[nutAt]!;
    return {
      model: sums.models[model]!,
      instruments: sums.modelOfInstrument.filter((of, at) => of === model && fitted.moments[at]!.length > 0).length,
      nut,
      cells: strings.map((cell, at): CellTrend => ({
        ...cell,
        rise: estimates[rises[at]!]!,
        raw: rawEstimate(raw.get(model)?.get(cell.string), nut.estimate),
      })),
      covariance: covarianceOf([nutAt, ...rises]),
    };
  });
  const unread: ModelTrend = {
    model: 'a model that was not read',
    instruments: 0,
    nut: unreadNut === undefined ? none : estimates[unreadNut]!,
    cells: unreadStrings.map(({ string, resolutionCents }, at): CellTrend => ({
      string,
      instruments: 0,
      resolutionCents,
      rise: estimates[unreadRises[at]!]!,
      raw: null,
    })),
    covariance: covarianceOf([unreadNut, ...unreadRises]),
  };
  const trend = {
    models,
    unread,
    spread,
    pooling: {
      model: deviationOf(fit, 'model', 'rise'),
      string: deviationOf(fit, 'string', 'rise'),
      modelString: deviationOf(fit, 'model:string', 'rise'),
      modelNut: deviationOf(fit, 'model', 'nut'),
    },
    hands: hands.map((at, technician): Hand => ({
      technician: sums.technicians[technician]!,
      rise: estimates[at]!,
      nut: handNuts.length > 0 ? estimates[handNuts[technician]!]! : null,
    })),
    covariates: covariates.map(({ name, missing }, at): CovariateTrend => ({
      name,
      missing,
      perUnit: estimates[perUnit[at]!]!,
    })),
    downWeighted: weights.listed,
    faults,
    sums,
  };
  return {
    ...trend,
    shop: estimates[shop[0]!]!,
    // Where strings cannot be told from single readings, their common spread counts as both: nothing is promised too narrow.
    spread: identified.instrumentStrings ? spread : { ...spread, stringRise: spread.reading * Math.hypot(1, kappa) },
    notes: trendNotes(trend, identified, { ...fit, silent }),
  };
}

/** Strings that an unread model may have: 1 to the most that models.csv allows, and whether no model at all was read on them. */
function unreadCells(
  cells: ReadonlyMap<number, readonly Cell[]>,
): { readonly string: number; readonly isUnread: boolean; readonly resolutionCents: number }[] {
  const all = [...cells.values()].flat();
  const steps = all.map(({ resolutionCents }) => resolutionCents).sort((a, b) => a - b);
  return Array.from({ length: mostStrings }, (_, at) => ({
    string: at + 1,
    isUnread: !all.some(({ string }) => string === at + 1),
    resolutionCents: steps[steps.length >> 1] ?? 0,
  }));
}

/** Combinations to ask for in one call, and where in the answer each stands. */
class Combinations {
  readonly all: Combination[] = [];

  add(combinations: readonly Combination[]): number[] {
    return combinations.map((one) => this.all.push(one) - 1);
  }
}

/** Each technician's departure from the mean hand; the last one's is minus the sum of the others'. */
function handCombinations(sums: BlockSums, kind: 'rise' | 'nut'): Combination[] {
  const last = sums.technicians.length - 1;
  return sums.technicians.map((_, technician) => ({
    fixed: Object.fromEntries(
      Array.from({ length: last }, (_unused, other): [string, number] => [
        technicianTerm(kind, other),
        technician === last ? -1 : Number(technician === other),
      ]),
    ),
  }));
}

const none: Estimate = { estimate: 0, standardError: 0, df: Infinity, low: 0, high: 0 };

/** An estimate whose variance is multiplied by `factor`, its interval with it. */
function widened({ estimate, standardError, df, low, high }: CombinedEstimate, factor: number): Estimate {
  const root = Math.sqrt(factor);
  return {
    estimate,
    standardError: standardError * root,
    df,
    low: estimate + (low - estimate) * root,
    high: estimate + (high - estimate) * root,
  };
}

/** A raw mean less the nut's part, with the t interval of its instruments; unbounded with one instrument. */
function rawEstimate(raw: RawRise | undefined, nut: number): Estimate | null {
  if (!raw) return null;
  const estimate = raw.mean - (1 - kappa) * nut;
  const df = raw.instruments - 1;
  if (df === 0) return { estimate, standardError: Infinity, df, low: -Infinity, high: Infinity };
  const standardError = raw.sd / Math.sqrt(raw.instruments);
  const reach = tQuantile(0.975, df) * standardError;
  return { estimate, standardError, df, low: estimate - reach, high: estimate + reach };
}
