import { table, type ColumnTable } from 'arquero';
import { kappa } from '../../src/acoustics/frets.ts';
import { sharedCents } from '../../src/acoustics/rise.ts';
import type { HouseStandard, StandardEntry, StandardModel } from '../../src/policy/standard.ts';
import type { Usage } from '../../src/policy/usage.ts';

/** One model of an invented standard; what is left out is as usual. */
export interface InventedModel extends Partial<StandardModel> {
  readonly model: string;
  /** Rise by string, string 1 first, in cents. */
  readonly rises: readonly number[];
  readonly nut?: number;
  readonly share?: number;
  /** Standard error of the rises. */
  readonly riseError?: number;
}

export const spread = { instrumentRise: 0.6, stringRise: 0.8, stringNut: 0.4 };
export const readingSd = 0.5;

/** A standard that is drawn up by hand, so that a test knows what it says. */
export function standardOf(models: readonly InventedModel[], options: Partial<HouseStandard> = {}): HouseStandard {
  return {
    version: 1,
    created: '2026-03-14T09:30:00.000Z',
    inputs: [{ path: 'log.csv', sha256: '0'.repeat(64) }],
    options: { loss: { kind: 'squared' }, usage: 'even', seed: 1 },
    notes: [],
    spread,
    models: models.map((model) => ({
      scaleMm: 648,
      strings: model.rises.length,
      frets: 22,
      saddles: model.rises.map((_, at) => [at + 1]),
      mmPerTurn: 0.7,
      travelMm: 14,
      ...model,
    })),
    entries: models.flatMap((model) => model.rises.map((rise, at) => entryOf(model, at + 1, rise))),
    ...options,
  };
}

function entryOf(model: InventedModel, string: number, rise: number): StandardEntry {
  const { nut = 0, share = 0.6, riseError = 0 } = model;
  const { cents12, cents17 } = sharedCents(share, rise + (1 - kappa) * nut);
  return {
    model: model.model,
    string,
    saddle: model.saddles?.find((saddle) => saddle.includes(string)) ?? [string],
    share,
    shareLow: share,
    shareHigh: share,
    fineLow: 0,
    fineHigh: 1,
    clipped: 'no',
    rise,
    riseLow: rise - 1.96 * riseError,
    riseHigh: rise + 1.96 * riseError,
    riseRaw: null,
    riseSdBetween: Math.hypot(spread.instrumentRise, spread.stringRise),
    nut,
    readingSd,
    target12: cents12,
    target17: cents17,
    window: 1.96 * readingSd,
    expectedError: 1,
    error95: 2,
    cost: 1,
    regret: 0,
    instruments: 9,
    verdict: 'split',
    reason: 'invented',
    rules: { '12th exact': 1, '17th exact': 1, 'even split': 1, 'low strings 12th, high strings split': 1 },
  };
}

export interface BenchReading {
  readonly instrument?: string;
  readonly model?: string;
  readonly string?: number;
  readonly pass?: number;
  readonly fret: number;
  readonly cents: number;
  readonly saddleMm?: number;
  readonly scaleMm?: number;
  readonly resolutionCents?: number;
}

/** Readings as `readLogs` gives them; instrument J1 of model Larch, string 1, pass 0 where not said. */
export function readingsOf(rows: readonly BenchReading[]): ColumnTable {
  const full = rows.map((row) => ({ instrument: 'J1', model: 'Larch', string: 1, pass: 0, ...row }));
  const column = (name: keyof BenchReading): unknown[] => full.map((row) => row[name] ?? null);
  const needed = ['instrument', 'model', 'string', 'fret', 'pass', 'cents'] as const;
  const beside = (['saddleMm', 'scaleMm', 'resolutionCents'] as const).filter((name) =>
    full.some((row) => row[name] !== undefined),
  );
  return table(Object.fromEntries([...needed, ...beside].map((name) => [name, column(name)])));
}

/** Every fret of every string as often as any other. */
export const evenUsage: Usage = new Map(
  Array.from({ length: 12 }, (_, at) => [
    at + 1,
    new Map(Array.from({ length: 22 }, (_unused, fret) => [fret + 1, 1])),
  ]),
);
