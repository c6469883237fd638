import { readFileSync } from 'node:fs';
import { Ajv2020 } from 'ajv/dist/2020.js';
import fc from 'fast-check';
import { parseHTML } from 'linkedom';
import { expect, test } from 'vitest';
import { makeWorksheets } from '../../src/bench/worksheet.ts';
import { worksheetsJson } from '../../src/bench/worksheet-json.ts';
import { worksheetPage } from '../../src/bench/worksheet-page.ts';
import { worksheetText } from '../../src/bench/worksheet-text.ts';
import type { Loss } from '../../src/policy/loss.ts';
import { evenUsage, readingsOf, standardOf } from './bench-standard.ts';

const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
ajv.addFormat('date-time', (text: string) => !Number.isNaN(Date.parse(text)));
const validate = ajv.compile(JSON.parse(readFileSync('shared/worksheets.schema.json', 'utf8')) as object);

const reading = fc.record(
  {
    instrument: fc.constantFrom('J1', 'J2'),
    model: fc.constantFrom('Larch', 'Elm', 'Yew'),
    string: fc.integer({ min: 1, max: 8 }),
    pass: fc.integer({ min: 0, max: 3 }),
    fret: fc.constantFrom(1, 5, 12, 12, 12, 17, 17, 17, 22, 36),
    cents: fc.oneof(
      fc.integer({ min: -100, max: 100 }).map((tenths) => tenths / 10),
      fc.constantFrom(-600, 600, 0),
    ),
    saddleMm: fc.integer({ min: -40, max: 40 }).map((tenths) => tenths / 10),
    resolutionCents: fc.constantFrom(0.1, 1),
  },
  { requiredKeys: ['instrument', 'model', 'string', 'pass', 'fret', 'cents'] },
);
const losses: Loss[] = [{ kind: 'squared' }, { kind: 'minimax' }, { kind: 'audible', thresholdCents: 3 }];

test('any log gives worksheets that are valid, finite and 80 columns wide, every string once', () => {
  fc.assert(
    fc.property(
      fc.array(reading, { minLength: 1, maxLength: 40 }),
      fc.constantFrom(...losses),
      fc.constantFrom({ readingSd: 0.5, spread: 1 }, { readingSd: 0, spread: 0 }, { readingSd: 0.5, spread: 0 }),
      (rows, loss, { readingSd, spread }) => {
        const plain = standardOf([
          { model: 'Larch', rises: [3, 2, 1, 3, 2, 1], saddles: [[1, 4], [2], [3, 5, 6]], travelMm: 4 },
          { model: 'Elm', rises: [0, 0, 0, 0, 0, 0, 0], mmPerTurn: null, travelMm: null },
        ]);
        const standard = {
          ...plain,
          options: { ...plain.options, loss },
          spread: { instrumentRise: 0.6 * spread, stringRise: 0.8 * spread, stringNut: 0.4 * spread },
          entries: plain.entries.map((entry) => ({ ...entry, readingSd, window: 1.96 * readingSd })),
        };
        const sheets = makeWorksheets(readingsOf(rows), { standard, models: [], usage: evenUsage });
        for (const sheet of sheets) {
          const strings = sheet.saddles.flatMap((saddle) => saddle.strings.map((one) => one.string));
          const read = new Set(
            rows.filter(({ instrument }) => instrument === sheet.instrument).map((row) => row.string),
          );
          expect(new Set(strings).size).toBe(strings.length);
          // A string on a shared saddle that was not read at the saddle's latest pass is named as such.
          const told = [...strings, ...sheet.beyond, ...sheet.saddles.flatMap(({ unread }) => unread)];
          for (const string of read) expect(told).toContain(string);
          for (const line of worksheetText(sheet).split('\n')) expect([...line].length, line).toBeLessThanOrEqual(80);
          expect(worksheetText(sheet)).not.toMatch(/NaN|Infinity|undefined|null/);
          const page = worksheetPage(sheet, standard, '');
          expect(parseHTML(page).document.querySelectorAll('tbody tr')).toHaveLength(strings.length);
          expect(page).not.toMatch(/NaN|Infinity|undefined|null/);
        }
        // JSON writes what is not finite as null, which the schema refuses where a number must be.
        validate(JSON.parse(worksheetsJson(sheets, standard, standard.created)));
        expect(validate.errors ?? []).toEqual([]);
      },
    ),
    { numRuns: 300, seed: 4 },
  );
});
