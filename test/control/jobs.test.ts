import { table } from 'arquero';
import { describe, expect, test } from 'vitest';
import { jobsOf } from '../../src/control/jobs.ts';

type Look = readonly [instrument: string, pass: number, day: string | null, note?: string];

const lookedAt = (looks: readonly Look[]) =>
  jobsOf(
    table({
      instrument: looks.map(([instrument]) => instrument),
      model: looks.map(() => 'Fern'),
      string: looks.map(() => 1),
      fret: looks.map(() => 12),
      pass: looks.map(([, pass]) => pass),
      cents: looks.map((_, at) => at),
      measuredAt: looks.map(([, , day]) => day),
      note: looks.map(([, , , note]) => note ?? null),
    }),
  );
const stays = (looks: readonly Look[]) =>
  lookedAt(looks).jobs.map(({ instrument, passes, at }) => [
    instrument,
    passes,
    at === null ? null : new Date(at).toISOString().slice(0, 10),
  ]);

describe('jobsOf', () => {
  test('takes passes within a month for one job, dated by its last', () => {
    expect(
      stays([
        ['J1', 0, '2026-01-05'],
        ['J1', 1, '2026-01-06'],
        ['J2', 0, '2026-01-05'],
        ['J1', 2, '2026-02-03'],
      ]),
    ).toEqual([
      ['J1', [0, 1, 2], '2026-02-03'],
      ['J2', [0], '2026-01-05'],
    ]);
  });

  test('begins a new job where the pass number falls, and after more than 30 days', () => {
    expect(
      stays([
        ['J1', 0, '2026-03-10'],
        ['J1', 0, '2026-03-01'],
        ['J1', 1, '2026-03-01T15:00'],
        ['J1', 1, '2026-03-10'],
        ['J1', 2, '2026-04-10'],
      ]),
    ).toEqual([
      ['J1', [0, 1], '2026-03-01'],
      ['J1', [0, 1], '2026-03-10'],
      ['J1', [2], '2026-04-10'],
    ]);
  });

  test('puts readings without a date with their pass, and makes one undated job where there is no date', () => {
    expect(
      stays([
        ['J1', 0, '2026-03-01'],
        ['J1', 3, '2026-06-01'],
        ['J1', 3, null],
        ['J1', 7, null],
        ['J2', 0, null],
        ['J2', 1, ''],
      ]),
    ).toEqual([
      ['J1', [0, 7], '2026-03-01'],
      ['J1', [3], '2026-06-01'],
      ['J2', [0, 1], null],
    ]);
  });

  test('keeps every reading once, says which are of the first pass, and keeps later notes', () => {
    const { jobs, readings, received } = lookedAt([
      ['J1', 0, '2026-03-01', 'buzzes'],
      ['J1', 1, '2026-03-01', 'string replaced'],
      ['J1', 1, '2026-03-01', 'string replaced'],
      ['J1', 2, '2026-05-01'],
    ]);
    expect(Array.from(readings.array('cents') as number[])).toEqual([0, 1, 2, 3]);
    expect(Array.from(received.array('cents') as number[])).toEqual([0, 3]);
    expect(jobs.map(({ laterNotes }) => laterNotes)).toEqual([['string replaced'], []]);
    expect(new Set(readings.array('instrument') as string[])).toEqual(new Set(jobs.map(({ key }) => key)));
  });
});
