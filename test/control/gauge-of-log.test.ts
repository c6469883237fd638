import { table, type ColumnTable } from 'arquero';
import { describe, expect, test } from 'vitest';
import { gaugeOfLog } from '../../src/control/gauge-of-log.ts';
import { normalRandom } from '../../src/statistics/random.ts';

interface Row {
  readonly instrument: string;
  readonly string: number;
  readonly fret: number;
  readonly pass: number;
  readonly cents: number;
  readonly technician: string;
}
const log = (rows: readonly Row[]): ColumnTable =>
  table({
    ...Object.fromEntries(
      (['instrument', 'string', 'fret', 'pass', 'cents', 'technician'] as const).map((name) => [
        name,
        rows.map((row) => row[name]),
      ]),
    ),
    model: rows.map(() => 'Fern'),
  });

describe('gaugeOfLog', () => {
  // Truth known: 0.4 cents from reading to reading, hands 0.6 apart; seeded. The 17th, read once, and a second pass with the saddle
  // moved must not count.
  test('tells the same hand from other hands', () => {
    const normal = normalRandom(12);
    const hands = [0.7, -0.5, 0.1, -0.3];
    const rows = Array.from({ length: 10 }, (_, at) => `J${at}`).flatMap((instrument) =>
      [1, 2].flatMap((string) => {
        const cents = 3 * normal();
        return hands.flatMap((hand, at) => {
          const row = { instrument, string, pass: 0, technician: `tech-${at}` };
          return [
            { ...row, fret: 12, cents: cents + hand + 0.4 * normal() },
            { ...row, fret: 12, cents: cents + hand + 0.4 * normal() },
            { ...row, fret: 17, cents: 50 },
            { ...row, fret: 12, pass: 1, cents: 90 * at },
          ].slice(0, at === 0 ? 4 : 3);
        });
      }),
    );
    const { study, fret } = gaugeOfLog(log(rows));
    expect(fret).toBe(12);
    expect(study).toMatchObject({ readings: 160, parts: 20, operators: 4, repeats: 80 });
    const { repeatability, operator } = study!.components;
    expect(repeatability!.low).toBeLessThan(0.16);
    expect(repeatability!.high).toBeGreaterThan(0.16);
    expect(Math.sqrt(repeatability!.variance)).toBeCloseTo(0.4, 1);
    // The four hands' own variance, (0.49 + 0.25 + 0.01 + 0.09) / 3.
    expect(operator!.variance).toBeCloseTo(0.28, 1);
  });

  test('says how to make a study where a log has no repeats', () => {
    const row = { instrument: 'J1', string: 1, fret: 12, pass: 0, cents: 1, technician: 'ann' };
    const gauge = gaugeOfLog(log([row, { ...row, string: 2 }]));
    expect(gauge).toEqual({
      study: null,
      fret: 12,
      reason:
        'no string was read twice at fret 12 by one technician at one pass. For a gauge study let two technicians or more each read the same strings twice or more and move no saddle between',
    });
  });
});
