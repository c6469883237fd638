import { table } from 'arquero';
import { riseShape, saddleLeverage } from '../../src/acoustics/frets.ts';
import type { CostCurveOptions } from '../../src/policy/cost-curve.ts';
import { makeStandard, type HouseStandard } from '../../src/policy/standard.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import type { CellTrend, Estimate, ModelTrend, Trend } from '../../src/trend/trend.ts';

/** What an invented shop is made of; figures must draw it, whatever a fit would say. */
export interface Invention {
  readonly models: readonly string[];
  /** Rise per string in cents, the same for every model; string 1 first. */
  readonly rises?: readonly number[];
  readonly nut?: number;
  readonly instruments?: number;
  readonly frets?: readonly number[];
  /** Scatter of a reading in cents. */
  readonly noise?: number;
  /** Readings that are added as they are. */
  readonly extra?: readonly ReadingRow[];
}

export interface ReadingRow {
  readonly instrument: string;
  readonly model: string;
  readonly string: number;
  readonly fret: number;
  readonly pass: number;
  readonly cents: number;
}

export const spread = { instrumentRise: 0.8, stringRise: 0.6, stringNut: 0.4, reading: 0.5 };

const estimate = (value: number, half: number): Estimate => ({
  estimate: value,
  standardError: half / 2,
  df: 10,
  low: value - half,
  high: value + half,
});

/** Readings of the invented shop: nut + rise u(n) + saddle g(n) + noise, every instrument with a saddle of its own. */
export function inventedReadings(invention: Invention): ReadingRow[] {
  const { models, rises = [3, 2, 4], nut = 0.5, instruments = 3, frets = [5, 12, 17], noise = 0 } = invention;
  const normal = normalRandom(5);
  const rows = models.flatMap((model) =>
    Array.from({ length: instruments }, (_, at) => `${model}-${at}`).flatMap((instrument) =>
      rises.flatMap((rise, string) => {
        const saddle = 4 * normal();
        return frets.map((fret) => ({
          instrument,
          model,
          string: string + 1,
          fret,
          pass: 0,
          cents: nut + rise * riseShape(fret) + saddle * saddleLeverage(fret) + noise * normal(),
        }));
      }),
    ),
  );
  return [...rows, ...(invention.extra ?? [])];
}

/** A trend that knows the invented shop exactly, each estimate with intervals: pooled +-0.5, raw +-1. */
export function inventedTrend(invention: Invention): Trend {
  const { models, rises = [3, 2, 4], nut = 0.5, instruments = 3 } = invention;
  const rows = inventedReadings(invention);
  const column = <K extends keyof ReadingRow>(key: K): ReadingRow[K][] => rows.map((row) => row[key]);
  const cells = rises.map((rise, at): CellTrend => ({
    string: at + 1,
    instruments,
    rise: estimate(rise, 0.5),
    raw: estimate(rise + 0.2, 1),
    resolutionCents: 0.1,
  }));
  return {
    models: models.map((model): ModelTrend => ({
      model,
      instruments,
      nut: estimate(nut, 0),
      cells,
      covariance: [nut, ...rises].map((_, i) => [nut, ...rises].map((_, j) => (i === j && i > 0 ? 0.06 : 0))),
    })),
    unread: {
      model: 'a model that was not read',
      instruments: 0,
      nut: estimate(nut, 0),
      cells: rises.map((_, at) => ({
        string: at + 1,
        instruments: 0,
        rise: estimate(3, 2),
        raw: null,
        resolutionCents: 0.1,
      })),
      covariance: [nut, ...rises].map((_, i) => [nut, ...rises].map((_, j) => (i === j && i > 0 ? 1 : 0))),
    },
    shop: estimate(3, 1),
    spread,
    pooling: { model: 1, string: 1, modelString: 0.5, modelNut: 0.1 },
    covariates: [],
    hands: [],
    downWeighted: [],
    faults: [],
    notes: [],
    sums: sumReadings(
      table({
        instrument: column('instrument'),
        model: column('model'),
        string: column('string'),
        fret: column('fret'),
        pass: column('pass'),
        cents: column('cents'),
      }),
    ),
  };
}

/** The standard of an invented trend, and what it was made from. */
export function inventedStandard(trend: Trend): { readonly standard: HouseStandard; readonly from: CostCurveOptions } {
  const usage = new Map(
    trend.models[0]!.cells.map(({ string }) => [string, new Map([3, 5, 7, 9, 12, 15, 17].map((fret) => [fret, 1]))]),
  );
  const from: CostCurveOptions = { trend, specs: [], usage, loss: { kind: 'squared' } };
  const standard = makeStandard(trend, [], { ...from, usageName: 'even', created: '2026-01-01', inputs: [] });
  return { standard, from };
}
