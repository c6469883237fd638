import { table, type ColumnTable } from 'arquero';
import { describe, expect, test } from 'vitest';
import { kappa } from '../../src/acoustics/frets.ts';
import { adoption, type Adoption } from '../../src/control/adoption.ts';
import { adoptionSentences, adoptionTables } from '../../src/control/adoption-words.ts';
import { followFaults } from '../../src/control/followed-faults.ts';
import { jobsOf } from '../../src/control/jobs.ts';
import { leftJobs } from '../../src/control/left-jobs.ts';
import { normalRandom, uniformRandom } from '../../src/statistics/random.ts';
import { dayAfter, inventedEntry, inventedStandard, leftReadings, type LeftPlan } from './invented-bench.ts';

const models = ['Fern', 'Moss'];
const strings = [1, 2, 3];
const standard = inventedStandard(models.flatMap((model) => strings.map((string) => inventedEntry({ model, string }))));
const usage = new Map([
  [
    1,
    new Map([
      [3, 2],
      [12, 1],
      [17, 1],
    ]),
  ],
]);
const adoptedAt = Date.parse(dayAfter(60));
const report = (readings: ColumnTable, at: number | undefined = adoptedAt) =>
  adoption(readings, standard, { usage, adoptedAt: at });

/** What is planted on one side of the day: how saddle errors scatter, in cents, and the most moves a job takes. */
interface Side {
  readonly sd: number;
  readonly mostMoves: number;
}

/** Jobs of a small bench from a seed, every second of either model; Moss takes one move more. */
function bench(
  seed: number,
  sides: Readonly<Record<'before' | 'after', Side & { readonly jobs: number }>>,
): LeftPlan[] {
  const [normal, uniform] = [normalRandom(seed), uniformRandom(seed + 1)];
  return (['before', 'after'] as const).flatMap((side) =>
    Array.from({ length: sides[side].jobs }, (_, at) => at).flatMap((at) => {
      const { sd, mostMoves } = sides[side];
      // Unlike mixtures of models on the two sides.
      const model = models[Number(side === 'before' ? at % 2 === 0 : at % 3 === 0)]!;
      const moves = 1 + Math.floor(mostMoves * uniform()) + Number(model === 'Moss');
      return strings.map((string) => ({
        instrument: `${side} ${at}`,
        model,
        string,
        rise: 3 + normal(),
        error: sd * normal(),
        technician: ['ann', 'ben'][at % 2]!,
        at: dayAfter(side === 'before' ? at : 60 + at),
        before: moves,
      }));
    }),
  );
}

describe('adoption', () => {
  // Seeded simulation from known truth. A saddle error of standard deviation s is off the standard by s sqrt(2 / pi) on average (mean
  // of the half-normal), so the truth is (0.5 - 1.5) 0.7979; moves are 1, 2 or 3 before and 1 or 2 after, so -0.5 on either model.
  // Of 120 intervals 95 % hold the truth, within 3 binomial standard errors (0.06).
  test('holds the truth in 95 of 100 intervals, though more of one model came in', () => {
    const truth = { off: -Math.sqrt(2 / Math.PI), moves: -0.5 };
    const held = { off: 0, moves: 0 };
    for (let seed = 1; seed <= 120; seed++) {
      const plans = bench(10 * seed, {
        before: { jobs: 24, sd: 1.5, mostMoves: 3 },
        after: { jobs: 15, sd: 0.5, mostMoves: 2 },
      });
      const { differences } = report(leftReadings(standard, plans)) as Adoption;
      for (const measure of ['off', 'moves'] as const) {
        const { low, high } = differences[measure]!;
        if (low <= truth[measure] && truth[measure] <= high) held[measure]++;
      }
    }
    expect(Math.abs(held.off / 120 - 0.95)).toBeLessThan(0.06);
    expect(Math.abs(held.moves / 120 - 0.95)).toBeLessThan(0.06);
  });

  test('counts jobs, and groups with jobs on both sides', () => {
    const plans = bench(3, {
      before: { jobs: 24, sd: 1.5, mostMoves: 3 },
      after: { jobs: 15, sd: 0.5, mostMoves: 2 },
    });
    const { before, after, groups, paired } = report(leftReadings(standard, plans)) as Adoption;
    expect([before.length, after.length, paired]).toEqual([24, 15, null]);
    expect(groups.map((group) => [group.kind, group.name, group.before, group.after])).toEqual([
      ['technician', 'ann', 12, 8],
      ['technician', 'ben', 12, 7],
      ['model', 'Fern', 12, 10],
      ['model', 'Moss', 12, 5],
    ]);
  });

  test('holds instruments that came twice against themselves', () => {
    const errors = [
      [1.5, 0.5],
      [2, 0.2],
      [-1, 0.4],
    ] as const;
    const plans = errors.flatMap(([was, is], at) =>
      [was, is].flatMap((error, time) =>
        strings.map((string) => ({
          ...{ instrument: `J${at}`, model: 'Fern', string, rise: 3, error },
          at: dayAfter(time === 0 ? at : 60 + at),
        })),
      ),
    );
    const { paired } = report(leftReadings(standard, plans)) as Adoption;
    expect(paired!.instruments).toBe(3);
    // By hand: |errors| fall by 1.0, 1.8 and 0.6; their mean is 34/30.
    expect(paired!.differences.off!.estimate).toBeCloseTo(-34 / 30, 10);
    expect(paired!.differences.off!.df).toBe(2);
    // Every job took one move: nothing scatters, so no interval is made up.
    expect(paired!.differences.moves).toBeNull();
  });

  const oneDay = (day: string | null, instrument = 'J1'): LeftPlan[] =>
    strings.map((string) => ({ instrument, model: 'Fern', string, rise: 3, error: 0, at: day }));
  test.each([
    ['all dates missing', leftReadings(standard, oneDay(null)), 'no instrument that was left has a date (measured_at)'],
    [
      'no instrument before',
      leftReadings(standard, oneDay(dayAfter(70))),
      'no instrument was left before 2026-03-06; the first was on 2026-03-16',
    ],
    [
      'no instrument after',
      leftReadings(standard, oneDay(dayAfter(59))),
      'no instrument was left on 2026-03-06 or later; the last was on 2026-03-05',
    ],
    [
      'no instrument left',
      leftReadings(
        standard,
        oneDay(dayAfter(1)).map((plan) => ({ ...plan, before: 0 })),
      ),
      'no instrument has a pass after its first with the 12th and the 17th: how any was left is not in the log',
    ],
  ])('says what is wanting: %s', (_, readings, reason) => {
    expect(report(readings)).toEqual({ adoptedAt, reason });
    expect(adoptionSentences(report(readings))).toEqual([`Nothing can be told: ${reason}.`]);
  });

  test('takes the day the standard was drawn up where no other is given', () => {
    const readings = leftReadings(standard, [...oneDay('2025-12-31'), ...oneDay('2026-01-01', 'J2')]);
    const found = adoption(readings, standard, { usage }) as Adoption;
    expect(found.before.map(({ job }) => job.instrument)).toEqual(['J1']);
    expect(found.after.map(({ job }) => job.instrument)).toEqual(['J2']);
  });

  test('gives no interval from one job a side, and says so in words', () => {
    const readings = leftReadings(standard, [...oneDay(dayAfter(1)), ...oneDay(dayAfter(61), 'J2')]);
    const found = report(readings) as Adoption;
    expect(Object.values(found.differences)).toEqual([null, null, null, null, null, null]);
    const words = adoptionSentences(found).join(' ');
    expect(words).toContain('Too few jobs, or no scatter, to give an interval: error left at the 12th; ');
    expect(words).toContain('Suspected faults: none can be raised.');
    expect(words).not.toMatch(/Less than before|More than before|NaN/);
  });

  test('warns where one technician did much more of the jobs, and names what is on one side only', () => {
    const of = (day: number, technician: string, model = 'Fern'): LeftPlan[] =>
      strings.map((string) => ({
        ...{ instrument: `J${day}`, model, string, rise: 3 },
        error: day / 50,
        technician,
        at: dayAfter(day),
      }));
    const plans = [...of(1, 'ann'), ...of(2, 'ann'), ...of(3, 'ben', 'Moss'), ...of(61, 'ben'), ...of(62, 'ben')];
    const { notes } = report(leftReadings(standard, plans)) as Adoption;
    expect(notes).toContain('On one side only, and left out: Moss.');
    expect(notes).toContain(
      'ben did 33 % of the jobs before and 100 % after: part of a difference may be who did them. See the technicians one by one.',
    );
  });

  test('tells less from more, within 80 columns', () => {
    const plans = bench(5, {
      before: { jobs: 40, sd: 2, mostMoves: 1 },
      after: { jobs: 40, sd: 0.3, mostMoves: 3 },
    });
    const found = report(leftReadings(standard, plans)) as Adoption;
    const words = adoptionSentences(found);
    expect(words.find((one) => one.startsWith('Less than before'))).toContain('distance from the standard');
    expect(words.find((one) => one.startsWith('More than before'))).toBe('More than before: saddle moves a job.');
    for (const line of adoptionTables(found)) expect(line.length).toBeLessThanOrEqual(80);
  });
});

test('leftJobs measures a job as it was left', () => {
  const frets = { 3: 1, 5: 0, 7: 0, 12: -4, 17: 5 };
  const rows = [0, 1].flatMap((pass) =>
    Object.entries(frets).map(([fret, cents]) => ({ pass, fret: Number(fret), cents })),
  );
  const readings = table({
    instrument: rows.map(() => 'J1'),
    model: rows.map(() => 'Fern'),
    string: rows.map(() => 1),
    fret: rows.map(({ fret }) => fret),
    pass: rows.map(({ pass }) => pass),
    // As received all is 9 cents sharp of that.
    cents: rows.map(({ cents, pass }) => cents + (pass === 0 ? 9 : 0)),
  });
  const [left] = leftJobs(jobsOf(readings), standard, { usage, audibleCents: 3 });
  // By hand: excess 1 at the 12th and 2 at the 17th; played 2 : 1 : 1 at frets 3, 12 and 17. The departure is
  // (1 - q) c12 + q c17 / kappa with q = 0.6.
  expect(left!.values).toEqual({
    at12: 4,
    at17: 5,
    audible: 1.5,
    neck: expect.closeTo((2 * 0 + 1 + 2) / 4, 12) as number,
    off: expect.closeTo(Math.abs(0.4 * -4 + (0.6 * 5) / kappa), 12) as number,
    moves: 1,
  });
});

test('followFaults tells what stayed from what went, and what it cannot', () => {
  const normal = normalRandom(11);
  // String 2 of three jobs rises 10 cents more: through both passes, on the first alone, and on a job that was not read again.
  const extra = (at: number, string: number, pass: number): number =>
    string === 2 && (at === 4 || at === 20 || (at === 12 && pass === 0)) ? 10 : 0;
  const rows = Array.from({ length: 30 }, (_, at) => at).flatMap((at) => {
    const shared = 0.4 * normal();
    return strings.flatMap((string) => {
      const own = 3 + shared + 0.5 * normal();
      return (at === 20 ? [0] : [0, 1]).flatMap((pass) =>
        [12, 17].map((fret) => {
          const saddle = pass === 0 ? 2 : 0;
          const rise = fret === 17 ? own + extra(at, string, pass) : 0;
          return { at, string, pass, fret, cents: rise + saddle * (fret === 12 ? 1 : kappa) + 0.4 * normal() };
        }),
      );
    });
  });
  const readings = table({
    instrument: rows.map(({ at }) => `J${at}`),
    model: rows.map(({ at }) => models[at % 2]!),
    string: rows.map(({ string }) => string),
    fret: rows.map(({ fret }) => fret),
    pass: rows.map(({ pass }) => pass),
    cents: rows.map(({ cents }) => cents),
  });
  const { faults } = followFaults(jobsOf(readings));
  expect(
    faults!.map(({ job, fault, outcome, reason }) => [job.instrument, fault.kind, fault.strings, outcome, reason]),
  ).toEqual([
    ['J4', 'one-string', [2], 'stayed', ''],
    ['J12', 'one-string', [2], 'went', ''],
    ['J20', 'one-string', [2], 'unknown', 'it was not read again'],
  ]);
});
