import { readFileSync } from 'node:fs';
import { beforeAll, expect, test } from 'vitest';
import { defaultSeed, jobs, makeBenchLog } from '../../data/demo-bench/make-bench-log.ts';
import { makeWorksheets, type Worksheet } from '../../src/bench/worksheet.ts';
import { makeStandard } from '../../src/policy/standard.ts';
import { readUsage } from '../../src/policy/usage.ts';
import { sumReadings } from '../../src/sources/block-sums.ts';
import { readLogs } from '../../src/sources/read-logs.ts';
import { readShared } from '../../src/sources/read-text.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';

const sheets = new Map<string, Worksheet>();
beforeAll(async () => {
  const shop = await readLogs(['data/demo']);
  const profile = await readShared('usage/whole-neck.csv');
  const usage = readUsage(profile.text, profile.path);
  const standard = makeStandard(fitTrend(sumReadings(shop.readings)), shop.models, {
    usage,
    usageName: profile.path,
    loss: { kind: 'audible', thresholdCents: 3 },
    created: '2026-07-01T08:00:00.000Z',
    inputs: [],
  });
  const log = await readLogs(['data/demo-bench/bench-log.csv']);
  expect(log.rejects).toEqual([]);
  for (const sheet of makeWorksheets(log.readings, { standard, models: [], usage }))
    sheets.set(sheet.instrument, sheet);
});

test('the committed bench log is what the generator writes for its default seed', () => {
  expect(readFileSync('data/demo-bench/bench-log.csv', 'utf8')).toBe(makeBenchLog(defaultSeed));
  expect(makeBenchLog(defaultSeed + 1)).not.toBe(makeBenchLog(defaultSeed));
});

test('every job has its worksheet, at its latest pass', () => {
  expect([...sheets.values()].map(({ instrument, pass }) => [instrument, pass])).toEqual(
    jobs.map(({ instrument, passes }) => [instrument, passes - 1]),
  );
});

// What was planted is known: data/demo-bench/README.md.
test('J2001: the damaged string, the open string and the screws are all found, and nothing else is suspected', () => {
  const { faults, saddles } = sheets.get('J2001')!;
  expect(faults.map(({ kind, strings }) => [kind, strings])).toEqual([['one-string', [4]]]);
  expect(saddles.flatMap(({ response }) => response!.openStrings.map(({ string }) => string))).toEqual([2]);
  for (const { strings, gain, move } of saddles) {
    if (strings[0]!.string === 2) expect(move).toBeUndefined();
    else {
      // The screws make 0.6 of what is stated; before any answer a saddle is taken to make 1, give or take a third.
      expect(gain.mean).toBeGreaterThan(0.5);
      expect(gain.mean).toBeLessThan(0.78);
      expect(move!.action).toBe('back');
    }
  }
});

test('J2002: paired saddles answered as predicted, by the rule', () => {
  const { saddles, answers, checks } = sheets.get('J2002')!;
  expect(saddles.map(({ strings }) => strings.map(({ string }) => string))).toEqual([
    [1, 2],
    [3, 4],
    [5, 6],
  ]);
  expect(answers).toEqual(['The saddles answered as predicted.']);
  expect(checks).toEqual([]);
  for (const { madeMm, response } of saddles) {
    expect(madeMm).toBeGreaterThan(1);
    expect(Math.abs(response!.ratio! - 1)).toBeLessThan(0.4);
  }
});

test('J2003: a model that the shop has never had gets moves without turns, and says what stands in', () => {
  const { saddles, notes } = sheets.get('J2003')!;
  expect(saddles.map(({ move }) => [move!.action, move!.turns])).toEqual(saddles.map(() => ['back', null]));
  expect(notes.join('\n')).toContain('The standard does not have model Willow 6');
  expect(notes.join('\n')).toContain('String 6: the 17th was not read');
});
