import { describe, expect, test } from 'vitest';
import { makeStandard } from '../../src/policy/standard.ts';
import { readUsage } from '../../src/policy/usage.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';

const spec = (model: string, strings: number) => ({
  model,
  scaleMm: 648,
  strings,
  frets: 21,
  saddles: Array.from({ length: strings }, (_, at) => [at + 1]),
  mmPerTurn: 0.7,
  travelMm: 12,
  placement: 'equal',
});

describe('a standard asked for a model without readings', () => {
  const trend = fitTrend(simulateShop(5, { ...usualShop, models: 4, instrumentsPerModel: 6 }).sums);
  const specs = [...trend.models.map(({ model }) => spec(model, 6)), spec('Not Read 7', 7)];
  const usage = readUsage('string,fret,count\n1,1,3\n1,5,2\n1,12,2\n1,17,1\n', 'usage.csv');
  const standard = makeStandard(trend, specs, {
    usage,
    usageName: 'usage.csv',
    loss: { kind: 'audible', thresholdCents: 3 },
    created: '2026-01-02T03:04:05.000Z',
    inputs: [{ path: 'log.csv', sha256: '0'.repeat(64) }],
  });
  const entries = standard.entries.filter(({ model }) => model === 'Not Read 7');

  test('gives it all its strings from the shop mean, with no instruments behind them', () => {
    expect(entries.map(({ string }) => string)).toEqual([1, 2, 3, 4, 5, 6, 7]);
    for (const entry of entries) {
      expect(entry.instruments).toBe(0);
      expect(entry.riseRaw).toBeNull();
      expect(entry.rise).toBeCloseTo(trend.unread.cells[entry.string - 1]!.rise.estimate, 10);
    }
    expect(standard.models.map(({ model }) => model)).toContain('Not Read 7');
  });

  test('says so in the notes and in every reason', () => {
    expect(standard.notes.join('\n')).toMatch(/No instrument of Not Read 7 was read .* the shop's mean stands in/);
    for (const { reason } of entries) expect(reason).toMatch(/^no instrument of this model was read/);
  });

  test('leaves the entries of the others as they are without it', () => {
    const without = makeStandard(trend, specs.slice(0, -1), {
      usage,
      usageName: 'usage.csv',
      loss: { kind: 'audible', thresholdCents: 3 },
      created: '2026-01-02T03:04:05.000Z',
      inputs: [{ path: 'log.csv', sha256: '0'.repeat(64) }],
    });
    expect(standard.entries.filter(({ model }) => model !== 'Not Read 7')).toEqual(without.entries);
  });
});
