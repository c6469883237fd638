import { readFileSync } from 'node:fs';
import { beforeAll, expect, test } from 'vitest';
import { defaultSeed, makeYear, type YearTruth } from '../../data/demo-control/make-year.ts';
import { adoption, type Adoption } from '../../src/control/adoption.ts';
import { gaugeOfLog } from '../../src/control/gauge-of-log.ts';
import { leftInstruments } from '../../src/control/left-instruments.ts';
import { shopControl } from '../../src/control/shop-control.ts';
import { parseStandard } from '../../src/policy/standard-json.ts';
import { readUsage } from '../../src/policy/usage.ts';
import { type Logs, readLogs } from '../../src/sources/read-logs.ts';
import { readShared } from '../../src/sources/read-text.ts';

const folder = 'data/demo-control';
const text = (name: string): string => readFileSync(`${folder}/${name}`, 'utf8');
const standard = parseStandard(text('house-standard.json'), 'house-standard.json');
const truth = JSON.parse(text('truth.json')) as YearTruth;
const { planted } = truth;
let logs: Logs;
let changed: Adoption;
beforeAll(async () => {
  logs = await readLogs([`${folder}/*.csv`]);
  const profile = await readShared('usage/whole-neck.csv');
  changed = adoption(logs.readings, standard, { usage: readUsage(profile.text, profile.path) }) as Adoption;
});

test('the committed year is what the generator writes for its default seed', () => {
  const made = makeYear(defaultSeed, standard);
  for (const [name, written] of Object.entries(made.files)) expect(text(name)).toBe(written);
  expect(truth).toEqual(JSON.parse(JSON.stringify(made.truth)));
  expect(makeYear(defaultSeed + 1, standard).files).not.toEqual(made.files);
  expect(logs.rejects).toEqual([]);
});

// What was planted is known: truth.json. A chart sees a departure some instruments after it begins.
test('since the standard was taken up, the charts find the drift and the new parts, and nothing else', () => {
  const left = leftInstruments(logs.readings, standard);
  const instruments = left.instruments.filter(({ at }) => at! >= Date.parse(planted.adopted));
  const { signals } = shopControl({ ...left, instruments }, standard);
  expect(signals.map(({ of, name, side, lasts }) => [of, name, side, lasts])).toEqual([
    ['technician', planted.drift.technician, 'sharp', true],
    ['model', planted.parts.model, 'sharp', true],
  ]);
  const [drift, parts] = signals;
  expect(drift!.seenAt).toBeGreaterThan(Date.parse(planted.drift.from));
  expect(drift!.seenAt).toBeLessThan(Date.parse(planted.drift.until));
  expect(parts!.seenAt - Date.parse(planted.parts.from)).toBeLessThan(30 * 86_400_000);
  expect(Math.abs(parts!.size - planted.parts.cents)).toBeLessThan(0.5);
});

test('the gauge study finds the scatter of a reading', () => {
  const { repeatability } = gaugeOfLog(logs.readings).study!.components;
  // Readings are written in steps of 0.1, which adds a variance of 0.1^2 / 12.
  const variance = truth.gauge.readingSd ** 2 + 0.1 ** 2 / 12;
  expect(repeatability!.low).toBeLessThan(variance);
  expect(repeatability!.high).toBeGreaterThan(variance);
});

test('every planted fault is suspected, and what became of it is told', () => {
  if (changed.faults.before === null) throw new Error(changed.faults.reason);
  const followed = [...changed.faults.before.faults, ...changed.faults.after.faults];
  for (const { instrument, string, mended } of truth.faulty) {
    const found = followed.find(({ job }) => job.instrument === instrument)!;
    expect([found.fault.kind, found.fault.strings, found.outcome]).toEqual([
      'one-string',
      [string],
      mended ? 'went' : 'stayed',
    ]);
    expect(found.job.laterNotes).toEqual(mended ? ['string replaced'] : []);
  }
  // One sound instrument in a thousand is suspected by each pattern that looks at all of it.
  expect(followed.length - truth.faulty.length).toBeLessThanOrEqual(2);
});

test('jobs take fewer moves by the card, and instruments that came twice are held against themselves', () => {
  expect(changed.before.length + changed.after.length).toBe(170);
  expect(changed.differences.moves!.high).toBeLessThan(0);
  expect(changed.paired!.instruments).toBe(truth.twice.length);
});
