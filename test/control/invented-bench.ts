import { table, type ColumnTable } from 'arquero';
import { kappa } from '../../src/acoustics/frets.ts';
import type { HouseStandard, StandardEntry } from '../../src/policy/standard.ts';

/** A standard's entry with what control looks at; the rest is filled in. */
export function inventedEntry(entry: Partial<StandardEntry> & Pick<StandardEntry, 'model' | 'string'>): StandardEntry {
  return {
    saddle: [entry.string],
    share: 0.6,
    shareLow: 0,
    shareHigh: 1,
    fineLow: 0,
    fineHigh: 1,
    clipped: 'no',
    rise: 3,
    riseLow: 2,
    riseHigh: 4,
    riseRaw: 3,
    riseSdBetween: 0.9,
    nut: 0.5,
    readingSd: 0.5,
    target12: -1,
    target17: 1,
    window: 1,
    expectedError: 1,
    error95: 3,
    cost: 0.4,
    regret: 0.05,
    instruments: 12,
    verdict: 'split',
    reason: 'invented',
    rules: { '12th exact': 1, '17th exact': 1, 'even split': 1, 'low strings 12th, high strings split': 1 },
    ...entry,
  };
}

/** An invented standard, drawn up on the first day of 2026. */
export function inventedStandard(entries: readonly StandardEntry[]): HouseStandard {
  const models = [...new Set(entries.map(({ model }) => model))];
  return {
    version: 1,
    created: '2026-01-01T00:00:00.000Z',
    inputs: [{ path: 'log.csv', sha256: '0'.repeat(64) }],
    options: { loss: { kind: 'squared' }, usage: 'usage/whole-neck.csv', seed: 1 },
    notes: [],
    spread: { instrumentRise: 0.6, stringRise: 0.7, stringNut: 0.4 },
    models: models.map((model) => {
      const strings = Math.max(...entries.filter((entry) => entry.model === model).map(({ string }) => string));
      return {
        model,
        scaleMm: 648,
        strings,
        frets: 22,
        saddles: Array.from({ length: strings }, (_, at) => [at + 1]),
        mmPerTurn: null,
        travelMm: null,
      };
    }),
    entries,
  };
}

/** One string of one instrument as it is left: its rise and the saddle's error in cents at the 12th. */
export interface LeftPlan {
  readonly instrument: string;
  readonly model: string;
  readonly string: number;
  readonly rise: number;
  readonly error: number;
  readonly technician?: string;
  readonly at?: string | null;
  /** Passes before it was left; default 1. */
  readonly before?: number;
}

/**
 * Readings of strings that are received 5 cents sharp and left with the saddle error planned: the rise shared as the standard says
 * (DESIGN section 3: `cents12 = -q t / kappa`, `cents17 = (1 - q) t`), a saddle error adding 1 at the 12th and kappa at the 17th.
 */
export function leftReadings(standard: HouseStandard, plans: readonly LeftPlan[]): ColumnTable {
  const rows = plans.flatMap(
    ({ instrument, model, string, rise, error, technician = 'ann', at = null, before = 1 }) => {
      const share = standard.entries.find((entry) => entry.model === model && entry.string === string)?.share ?? 0;
      return Array.from({ length: before + 1 }, (_, pass) => pass).flatMap((pass) =>
        [12, 17].map((fret) => {
          const saddle = pass < before ? error + 5 : error;
          const cents = fret === 12 ? (-share * rise) / kappa + saddle : (1 - share) * rise + kappa * saddle;
          return { instrument, model, string, fret, pass, cents, technician, measuredAt: at, resolutionCents: 0.1 };
        }),
      );
    },
  );
  const names = [
    'instrument',
    'model',
    'string',
    'fret',
    'pass',
    'cents',
    'technician',
    'measuredAt',
    'resolutionCents',
  ] as const;
  return table(Object.fromEntries(names.map((name) => [name, rows.map((row) => row[name])])));
}

/** The day so many days after 5 January 2026. */
export function dayAfter(days: number): string {
  return new Date(Date.UTC(2026, 0, 5 + days)).toISOString().slice(0, 10);
}
