import { readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { readUsage, usageWeights } from '../../src/policy/usage.ts';

test('readUsage and usageWeights turn counts into weights that sum to 1, open strings left out', () => {
  const usage = readUsage('string,fret,count\n1,0,50\n1,1,3\n1,12,1\n', 'use.csv');
  expect([...usageWeights(usage, 1, 12)]).toEqual([0.75, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0.25]);
});

test('readUsage reads semicolons, a byte order mark and CRLF', () => {
  const usage = readUsage('\uFEFFString;Fret;Count\r\n2;3;4\r\n', 'use.csv');
  expect(usage.get(2)?.get(3)).toBe(4);
});

test('usageWeights leave out frets that the instrument does not have', () => {
  const usage = readUsage('string,fret,count\n1,5,1\n1,24,9\n', 'use.csv');
  expect(usageWeights(usage, 1, 20)[4]).toBe(1);
});

test('usageWeights give a string that the profile does not tell of the sum of the others', () => {
  const usage = readUsage('string,fret,count\n1,1,1\n2,2,3\n', 'use.csv');
  expect([...usageWeights(usage, 7, 2)]).toEqual([0.25, 0.75]);
});

test('the built-in profile has every string up to 8 and fret up to 24', () => {
  const usage = readUsage(readFileSync('shared/usage/whole-neck.csv', 'utf8'), 'whole-neck.csv');
  for (let string = 1; string <= 8; string++)
    expect([...usageWeights(usage, string, 24)].every((weight) => weight > 0)).toBe(true);
});

test.each([
  ['string,fret,count\n1,5,-2\n', 'use.csv:2, column "count": found "-2", expected a count from 0 to 1e12'],
  ['string,fret,count\n1,,2\n', 'use.csv:2, column "fret": found "", expected a whole fret number from 0 to 36'],
  [
    'string,fret,count\n1,1,2\n0,5,2\n',
    'use.csv:3, column "string": found "0", expected a whole string number from 1, the thinnest',
  ],
  ['string,fret,count\n1,5,0\n', 'use.csv: the counts of fretted notes sum to 0, expected at least one above 0'],
  ['string,fret\n1,5\n', 'use.csv:1: found columns "string, fret", expected string, fret, count'],
  ['', 'use.csv:1: found columns "", expected string, fret, count'],
])('readUsage refuses %j', (text, message) => {
  expect(() => readUsage(text, 'use.csv')).toThrow(message);
});

test('usageWeights refuse a profile without a note on the neck', () => {
  const usage = readUsage('string,fret,count\n1,24,9\n', 'use.csv');
  expect(() => usageWeights(usage, 1, 20)).toThrow(
    'Cannot weigh frets 1 to 20: the usage profile has no note played there',
  );
});
