import { expect, test } from 'vitest';
import { moveCentsLinear } from '../../src/acoustics/saddle.ts';
import type { Finding } from '../../src/logs/findings.ts';
import { readLog } from '../../src/logs/read-log.ts';

const header = 'instrument,model,string,fret,cents,pass,technician,measured_at,saddle_mm';

function find(kind: Finding['kind'], ...rows: string[]): [line: number, string: number | null, message: string][] {
  const log = readLog([header, ...rows].join('\n'), 'a.csv');
  expect(log.rejects).toEqual([]);
  return log.findings.filter((each) => each.kind === kind).map(({ line, string, message }) => [line, string, message]);
}

test('findings tell a reading that stands twice, and not one repeated at another time or with another value', () => {
  const row = 'I-1,Heron,1,12,0.5,0,Ada,2026-03-14T09:30,';
  const others = [
    row.replace('9:30', '9:31'),
    row.replace('0.5', '0.6'),
    row.replace('Ada', 'Bo'),
    row.replace(',1,12', ',2,12'),
  ];
  expect(find('duplicate', row, ...others)).toEqual([]);
  expect(find('duplicate', row, ...others, row)).toEqual([[7, 1, 'the same reading of fret 12 stands at a.csv:2']]);
  // Many readings of one string are compared another way than few.
  const many = Array.from({ length: 60 }, (_, index) => row.replace('9:30', `9:${String(index).padStart(2, '0')}`));
  expect(find('duplicate', ...many, row)).toEqual([[62, 1, 'the same reading of fret 12 stands at a.csv:32']]);
});

test('findings tell an instrument under two models once', () => {
  expect(find('two-models', 'I-1,Heron,1,12,1,,,,', 'I-1,Osprey,1,17,1,,,,', 'I-1,Osprey,2,17,1,,,,')).toEqual([
    [3, null, 'is model "Osprey" here and "Heron" at a.csv:2'],
  ]);
});

test('findings tell an error of more than 50 cents', () => {
  expect(find('large-error', 'I-1,Heron,1,12,50,,,,', 'I-1,Heron,1,17,-50.1,,,,')).toEqual([
    [3, 1, '-50.1 cents at fret 17: check string, fret and sign'],
  ]);
});

test('findings tell a 12th without a 17th, by instrument, string and pass', () => {
  const rows = [
    'I-1,Heron,1,12,1,0,,,',
    'I-1,Heron,1,17,1,0,,,',
    'I-1,Heron,1,12,1,1,,,',
    'I-1,Heron,2,17,1,0,,,',
    'I-2,Heron,1,5,1,0,,,',
  ];
  expect(find('twelfth-without-seventeenth', ...rows)).toEqual([[4, 1, 'pass 1 has the 12th fret and not the 17th']]);
});

test('findings tell a technician all of whose readings are whole, from five on', () => {
  const rows = (technician: string, cents: string[]) =>
    cents.map((value, index) => `I-1,Heron,1,${index + 1},${value},,${technician},,`);
  expect(find('whole-numbers', ...rows('Ada', ['1', '2', '-3', '0']))).toEqual([]);
  expect(find('whole-numbers', ...rows('Ada', ['1', '2', '-3', '0', '2.5']))).toEqual([]);
  expect(find('whole-numbers', ...rows('Bo', ['0.5']), ...rows('Ada', ['1', '2', '-3', '0', '2.0']))).toEqual([
    [3, null, 'all 5 readings by technician "Ada" are whole cents: rounded, or read off a coarse display'],
  ]);
});

test('findings tell a saddle that answered against the geometry, and none that answered with it', () => {
  const before = { 12: 3, 17: 6 };
  const passes = (moveMm: number, answerMm: number, frets: readonly number[] = [12, 17]): string[] => [
    ...frets.map((fret) => `I-1,Heron,1,${fret},${before[fret as 12 | 17]},0,,,1`),
    ...frets.map((fret) => {
      const cents = before[fret as 12 | 17] + moveCentsLinear(fret, answerMm, 648);
      return `I-1,Heron,1,${fret},${cents.toFixed(2)},1,,,${1 + moveMm}`;
    }),
  ];
  expect(find('sign-slip', ...passes(1, 1))).toEqual([]);
  expect(find('sign-slip', ...passes(-1, -1))).toEqual([]);
  expect(find('sign-slip', ...passes(1, 0))).toEqual([]);
  // Less than reading noise: 0.2 mm is 0.5 cents at the 12th.
  expect(find('sign-slip', ...passes(0.2, -0.2))).toEqual([]);
  const message =
    'saddle moved 1.00 mm back and the string read +2.7 cents at the 12th, expected -2.7: check the signs';
  expect(find('sign-slip', ...passes(1, -1))).toEqual([[4, 1, message]]);
  expect(find('sign-slip', ...passes(1, -1, [17]))).toEqual([[3, 1, message]]);
  expect(find('sign-slip', ...passes(-1, 1))[0]![2]).toContain('moved 1.00 mm forward and the string read -2.7 cents');
});

test('findings tell a model that models.csv does not have, once, and none when there is no models.csv', () => {
  const text = [header, 'I-1,Heron,1,12,1,,,,', 'I-2,Osprey,1,12,1,,,,', 'I-3,Osprey,1,12,1,,,,'].join('\n');
  const spec = {
    model: 'Heron',
    scaleMm: 648,
    strings: 6,
    frets: 22,
    saddles: [],
    mmPerTurn: 1,
    travelMm: 1,
    placement: 'equal',
  };
  const kinds = (models: (typeof spec)[]) =>
    readLog(text, 'a.csv', { models }).findings.flatMap(({ kind, line, message }) =>
      kind === 'unknown-model' ? [`${line}: ${message}`] : [],
    );
  expect(kinds([spec])).toEqual(['3: model "Osprey" is not in models.csv']);
  expect(kinds([])).toEqual([]);
});
