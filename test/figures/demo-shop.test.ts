import { readFileSync } from 'node:fs';
import { beforeAll, expect, test } from 'vitest';
import { figureCsv } from '../../src/figures/figure-csv.ts';
import { plotAsLeft } from '../../src/figures/plot-as-left.ts';
import { plotCost } from '../../src/figures/plot-cost.ts';
import { plotReadings } from '../../src/figures/plot-readings.ts';
import { plotRise } from '../../src/figures/plot-rise.ts';
import { plotShare } from '../../src/figures/plot-share.ts';
import { asLeft } from '../../src/policy/as-left.ts';
import { costCurve } from '../../src/policy/cost-curve.ts';
import { makeStandard, type HouseStandard } from '../../src/policy/standard.ts';
import { readUsage, type Usage } from '../../src/policy/usage.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { readLogs, type Logs } from '../../src/sources/read-logs.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import type { Trend } from '../../src/trend/trend.ts';
import { all, rowsOf } from './drawing.ts';

let [logs, trend, standard, usage]: [Logs?, Trend?, HouseStandard?, Usage?] = [];
const loss = { kind: 'audible', thresholdCents: 3 } as const;

beforeAll(async () => {
  logs = await readLogs(['data/demo']);
  trend = fitTrend(sumReadings(logs.readings));
  usage = readUsage(readFileSync('shared/usage/whole-neck.csv', 'utf8'), 'whole-neck.csv');
  standard = makeStandard(trend, logs.models, {
    usage,
    usageName: 'whole neck',
    loss,
    created: '2026-07-01',
    inputs: [],
  });
});

test('plotReadings shows every demo reading whose string has a 12th in that pass', () => {
  interface Reading {
    readonly instrument: string;
    readonly model: string;
    readonly string: number;
    readonly pass: number;
    readonly fret: number;
  }
  const readings = logs!.readings.objects() as Reading[];
  const block = (one: Reading): string => `${one.instrument}/${one.string}/${one.pass}`;
  const withTwelfth = new Set(readings.filter(({ fret }) => fret === 12).map(block));
  // An instrument planted under two models counts under one, so the whole shop is counted, not a model.
  const expected = readings.filter((one) => withTwelfth.has(block(one))).length;
  const shown = trend!.models.flatMap(({ model }) => rowsOf(plotReadings(trend!, model), 'reading'));
  expect(shown.reduce((sum, row) => sum + (row.readings as number), 0)).toBe(expected);
});

test('plotRise and plotShare show every model and string of the demo shop', () => {
  const strings = trend!.models.reduce((sum, { cells }) => sum + cells.length, 0);
  expect(rowsOf(plotRise(trend!), 'pooled')).toHaveLength(strings);
  const share = plotShare(standard!);
  expect(share.data).toHaveLength(strings);
  expect(all(share, '[aria-label=dot] circle, [aria-label=dot] path')).toHaveLength(strings);
  expect(figureCsv(share).split('\r\n')).toHaveLength(strings + 2);
});

test('plotCost and costCurve agree with the demo standard', () => {
  const curves = standard!.entries.map((entry) =>
    costCurve(entry, { trend: trend!, specs: logs!.models, usage: usage!, loss }),
  );
  curves.forEach(({ chosen, rules }, at) => {
    expect(chosen.cost).toBe(standard!.entries[at]!.cost);
    for (const { rule, cost } of rules) expect(cost).toBe(standard!.entries[at]!.rules[rule]);
  });
  expect(all(plotCost(curves.slice(0, 6)), '[aria-label=line] path')).toHaveLength(6);
});

test('plotAsLeft tells the part of demo strings beyond the threshold', () => {
  const rows = asLeft(trend!.sums, standard!);
  const part = (errors: readonly number[]): number =>
    errors.filter((cents) => Math.abs(cents) > 3).length / rows.length;
  const figure = plotAsLeft(rows, 3);
  expect(figure.data).toHaveLength(rows.length);
  const received = Math.round(100 * part(rows.map((row) => row.received17)));
  expect(figure.description).toMatch(new RegExp(`17th, as received: .* ${received}\u00a0% beyond ±3 cents`));
});
