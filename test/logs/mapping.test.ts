import { readFileSync } from 'node:fs';
import Ajv2020 from 'ajv/dist/2020.js';
import { expect, test } from 'vitest';
import { readMapping } from '../../src/logs/mapping.ts';
import { readLog } from '../../src/logs/read-log.ts';

const schema = JSON.parse(readFileSync('shared/mapping.schema.json', 'utf8')) as { examples: object[] };
const conforms = new Ajv2020({ strict: true, strictTypes: false, strictRequired: false }).compile(schema);

const right: object[] = [
  ...schema.examples,
  {},
  { columns: {} },
  { $schema: 'mapping.schema.json', a4_hz: 442 },
  { columns: { Saddle: { column: 'saddle_mm', unit: 'thou' }, F12: { column: 'f12', unit: 'hz' }, F36: 'f36' } },
  { columns: { Note: { column: 'note' } } },
];
const wrong: [mapping: unknown, problem: string][] = [
  [[], 'found a list, expected an object with "columns"'],
  [null, 'found null, expected an object with "columns"'],
  [{ column: {} }, 'found "column", expected "columns", "missing" or "a4_hz"'],
  [{ columns: ['instrument'] }, '"columns" is a list, expected an object from header to column'],
  [{ columns: { A: 'guitar' } }, '"A" stands for "guitar", expected instrument, model, '],
  [{ columns: { A: 'f37' } }, '"A" stands for "f37", expected instrument, model, '],
  [{ columns: { A: 'f05' } }, '"A" stands for "f05", expected instrument, model, '],
  [{ columns: { A: 'f0' } }, '"A" stands for "f0", expected instrument, model, '],
  [{ columns: { A: 12 } }, '"A" stands for 12, expected instrument, model, '],
  [{ columns: { A: { unit: 'in' } } }, '"A" stands for undefined, expected instrument, model, '],
  [{ columns: { A: { column: 'saddle_mm', unit: 'ft' } } }, '"A" has the unit "ft", expected mm, cm, in, thou'],
  [{ columns: { A: { column: 'cents', unit: 'mm' } } }, '"A" has the unit "mm", expected none'],
  [{ columns: { A: { column: 'f12', unit: 'mm' } } }, '"A" has the unit "mm", expected cents, hz'],
  [{ columns: { A: { column: 'note', units: 'mm' } } }, '"A" has "units", expected "column" and "unit"'],
  [{ missing: 'NA' }, '"missing" is not a list of words'],
  [{ missing: [0] }, '"missing" is not a list of words'],
  [{ a4_hz: 0 }, '"a4_hz" is 0, expected hertz'],
];

test.each(right.map((mapping) => [mapping]))('readMapping accepts what its schema accepts: %j', (mapping) => {
  expect(conforms(mapping), JSON.stringify(conforms.errors)).toBe(true);
  expect(() => readMapping(JSON.stringify(mapping), 'mapping.json')).not.toThrow();
});

test.each(wrong)('readMapping refuses what its schema refuses: %j', (mapping, problem) => {
  expect(conforms(mapping)).toBe(false);
  expect(() => readMapping(JSON.stringify(mapping), 'mapping.json')).toThrow(`mapping.json: ${problem}`);
});

test('readMapping says what is wrong with a text that is not JSON', () => {
  expect(() => readMapping('{"columns": }', 'mapping.json')).toThrow(
    /^mapping\.json: the mapping is not JSON \(.*\)\. Write/,
  );
});

test('readLog takes foreign headers, units, words for nothing and the pitch standard from a mapping', () => {
  const mapping = readMapping(
    JSON.stringify({
      columns: {
        Gtr: 'instrument',
        make: 'model',
        'String No': 'string',
        Saddle: { column: 'saddle_mm', unit: 'in' },
        Scale: { column: 'scale_mm', unit: 'cm' },
        '12TH FRET': { column: 'f12', unit: 'hz' },
        Note: null,
      },
      missing: ['NA', '-'],
      a4_hz: 442,
    }),
    'mapping.json',
  );
  const log = readLog(
    ' gtr ;MAKE;string-no;saddle;Scale;12th fret;note\nI-1;Heron;5;0,1;64,8;221;x\nI-1;Heron;5;-;NA;221,5;x',
    'a.csv',
    {
      mapping,
      models: [
        {
          model: 'Heron',
          scaleMm: 648,
          strings: 6,
          frets: 22,
          saddles: [],
          mmPerTurn: 1,
          travelMm: 1,
          placement: 'equal',
        },
      ],
    },
  );
  expect(log.rejects).toEqual([]);
  // String 5 is A2, two octaves under A4 = 442 Hz: 110.5 Hz, so 221 Hz is exact at the 12th fret.
  expect(log.readings.select('cents', 'saddleMm', 'scaleMm', 'note').objects()).toEqual([
    { cents: 0, saddleMm: 2.54, scaleMm: 648, note: null },
    { cents: expect.closeTo(1200 * Math.log2(221.5 / 221), 9) as number, saddleMm: null, scaleMm: null, note: null },
  ]);
  expect(log.files[0]!.ignored).toEqual([]);
});
