import { readdirSync, readFileSync } from 'node:fs';
import fc from 'fast-check';
import { expect, test } from 'vitest';
import { usageFit } from '../../src/policy/usage-fit.ts';
import { usageText } from '../../src/policy/usage-text.ts';
import { addUsages, readUsage, usageCsv, usageWeights } from '../../src/policy/usage.ts';
import { usageProfiles } from '../../src/sources/read-usage.ts';

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

test('readUsage reads decimal commas beside semicolons, and UTF-16 as spreadsheets save it', () => {
  const text = 'string;fret;count\n1;5;1,5\n1;7;0,25\n';
  const counts = new Map([
    [
      1,
      new Map([
        [5, 1.5],
        [7, 0.25],
      ]),
    ],
  ]);
  expect(readUsage(text, 'use.csv')).toEqual(counts);
  expect(readUsage(Buffer.from(`\ufeff${text}`, 'utf16le'), 'use.csv')).toEqual(counts);
});

test('usageCsv writes what readUsage reads, and addUsages adds it up', () => {
  const counts = fc.array(
    fc.tuple(fc.integer({ min: 1, max: 12 }), fc.integer({ min: 0, max: 36 }), fc.integer({ min: 0, max: 1e6 })),
    { minLength: 1 },
  );
  fc.assert(
    fc.property(counts, (rows) => {
      const usages = [[1, 1, 1] as const, ...rows].map(
        ([string, fret, count]) => new Map([[string, new Map([[fret, count / 8]])]]),
      );
      const sum = addUsages(usages);
      expect(readUsage(usageCsv(sum), 'use.csv')).toEqual(sum);
      for (const [string, fret] of rows) {
        const alike = [[1, 1, 1] as const, ...rows].filter((row) => row[0] === string && row[1] === fret);
        expect(sum.get(string)!.get(fret)).toBe(alike.reduce((total, row) => total + row[2] / 8, 0));
      }
    }),
  );
});

// The rules are those of shared/usage/README.md, where the profiles are marked as common practice without a source.
test.each<[keyof typeof usageProfiles, number, (string: number, fret: number) => number]>([
  ['whole-neck', 8, (string, fret) => Math.exp(-(fret - 1) / Math.max(3.5, 6.5 - string / 2))],
  ['open-position', 8, (_, fret) => (fret > 12 ? 0 : Math.exp(-(fret - 1) / 2))],
  ['lead', 8, (_, fret) => Math.exp(-(((fret - 15) / 4) ** 2) / 2)],
  ['bass', 6, (_, fret) => Math.exp(-(fret - 1) / 4)],
])('the profile %s is what its README says, for %i strings', (name, strings, rule) => {
  const usage = readUsage(readFileSync(`shared/usage/${name}.csv`), name);
  expect([...usage.keys()]).toEqual(Array.from({ length: strings }, (_, at) => at + 1));
  for (const [string, frets] of usage)
    for (let fret = 1; fret <= 24; fret++)
      expect(Math.abs((frets.get(fret) ?? 0) - 1000 * rule(string, fret))).toBeLessThanOrEqual(1);
});

test('the profiles that can be named are the files of shared/usage, each in its README', () => {
  const files = readdirSync('shared/usage').filter((name) => name.endsWith('.csv'));
  expect(files.sort()).toEqual(
    Object.keys(usageProfiles)
      .map((name) => `${name}.csv`)
      .sort(),
  );
  const readme = readFileSync('shared/usage/README.md', 'utf8');
  for (const file of files) expect(readme).toContain(`\`${file}\``);
});

test('usageText stays within 80 columns with twelve strings and counts of all sizes', () => {
  const usage = new Map(
    Array.from({ length: 12 }, (_, at) => [
      at + 1,
      new Map([
        [at, 0.01],
        [at + 1, 123456.78],
        [at + 2, 9e11],
        [at + 3, 7.25],
      ]),
    ]),
  );
  const lines = usageText(usage).split('\n');
  expect(Math.max(...lines.map((line) => line.length))).toBeLessThanOrEqual(80);
  expect(lines[0]).toBe('fret  str 1  str 2  str 3  str 4  str 5  str 6  str 7  str 8 others    share');
});

// By hand: 1000 fretted notes, 4 of them above fret 20 of string 1 and 1 on string 7; open strings are no part of it.
test('usageFit says what share of the fretted playing a neck has no place for, models alike in one sentence', () => {
  const usage = readUsage('string,fret,count\n1,0,5000\n1,5,995\n1,22,4\n7,3,1\n', 'use.csv');
  const [a, b] = [
    { model: 'A', strings: [1, 2, 3], frets: 20 },
    { model: 'B', strings: [1, 2, 3], frets: 20 },
  ];
  expect(usageFit(usage, 'use.csv', [a, b, { model: 'C', strings: [1, 7], frets: 24 }])).toEqual([
    'Usage use.csv, for A, B: 0.4 % of the fretted playing lies above fret 20, the last one, and was left out.',
    'Usage use.csv, for A, B: 0.1 % of the fretted playing is on strings that were not read, and was left out.',
    'Usage use.csv, for A, B: no note on strings 2, 3, weighed as the others together.',
  ]);
});

test('usageFit names the profile and the model whose neck has no place for any of it', () => {
  const usage = readUsage('string,fret,count\n1,0,50\n1,21,0\n1,30,9\n', 'use.csv');
  expect(() => usageFit(usage, 'use.csv', [{ model: 'Aspen', strings: [1], frets: 22 }])).toThrow(
    'use.csv: found no count at frets 1 to 22, all that Aspen has; expected counts at some of these. ' +
      'Give another profile, or mend the frets of the model in models.csv',
  );
});

test.each([
  ['string,fret,string,count\n1,5,2,4\n', 'use.csv:1: found 2 columns "string", expected one'],
  ['string,fret,count\n1,5,-2\n', 'use.csv:2, column "count": found "-2", expected a count from 0 to 1e12'],
  ['string,fret,count\n1,,2\n', 'use.csv:2, column "fret": found "", expected a whole fret number from 0 to 36'],
  [
    'string,fret,count\n1,1,2\n0,5,2\n',
    'use.csv:3, column "string": found "0", expected a whole string number from 1, the thinnest, to 12',
  ],
  ['string,fret,count\n1,5,0\n', 'use.csv: the counts of fretted notes sum to 0, expected at least one above 0'],
  ['string,fret\n1,5\n', 'use.csv:1: found columns "string, fret", expected string, fret, count'],
  ['', 'use.csv:1: found columns "", expected string, fret, count'],
  ['string,fret,count\n1,5,1,5\n', 'use.csv:2: found 4 cells, expected 3'],
  [
    'string,fret,count\n1,1e1,2\n1,XII,2\n',
    'use.csv:3, column "fret": found "XII", expected a whole fret number from 0 to 36',
  ],
  ['string,fret,count\n1,37,2\n', 'use.csv:2, column "fret": found "37", expected a whole fret number from 0 to 36'],
  ['string,fret,count\n1,5,0x10\n', 'use.csv:2, column "count": found "0x10", expected a count from 0 to 1e12'],
])('readUsage refuses %j', (text, message) => {
  expect(() => readUsage(text, 'use.csv')).toThrow(message);
});

test('usageWeights refuse a profile without a note on the neck', () => {
  const usage = readUsage('string,fret,count\n1,24,9\n', 'use.csv');
  expect(() => usageWeights(usage, 1, 20)).toThrow(
    'Cannot weigh frets 1 to 20: the usage profile has no note played there',
  );
});
