import { readFileSync } from 'node:fs';
import { Ajv2020, type ValidateFunction } from 'ajv/dist/2020.js';
import { parse } from 'csv-parse/sync';
import { beforeAll, describe, expect, test } from 'vitest';
import { smallShop } from './small-shop.ts';

/** house-standard.json, as far as these tests read it. */
interface StandardFile {
  readonly created: string;
  readonly entries: readonly Entry[];
}
type Entry = Readonly<Record<string, unknown>> & {
  readonly model: string;
  readonly string: number;
  readonly saddle: readonly number[];
  readonly rules: Readonly<Record<string, number>>;
} & Readonly<Record<NumberField, number>>;
type NumberField =
  'share' | 'share_low' | 'share_high' | 'fine_low' | 'fine_high' | 'rise' | 'nut' | 'target12' | 'target17';

const schema = JSON.parse(readFileSync('shared/house-standard.schema.json', 'utf8')) as object;

/** A validator by JSON Schema 2020-12; a `date-time` is one that says of itself what it said. */
function validator(): ValidateFunction {
  const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true });
  ajv.addFormat('date-time', (text: string) => {
    const time = new Date(text);
    return !Number.isNaN(time.getTime()) && time.toISOString() === text;
  });
  return ajv.compile(schema);
}

// Frets 1, 3 and 5 tell the nut from the rise; without them the nut is 0 in the standard.
describe.each([[[1, 3, 5, 12, 17]], [[12, 17]]])('the files of a standard from readings at frets %j', (frets) => {
  let csv = '';
  let json = '';
  let standard: StandardFile;
  beforeAll(async () => {
    const { files } = await smallShop(frets);
    csv = files['house-standard.csv'];
    json = files['house-standard.json'];
    standard = JSON.parse(json) as StandardFile;
  });

  test('house-standard.json is valid by its JSON Schema, which refuses what it does not know', () => {
    const validate = validator();
    validate(standard);
    expect(validate.errors ?? []).toEqual([]);
    const [first, ...rest] = standard.entries;
    for (const wrong of [
      { ...standard, entries: [{ ...first, share: 1.5 }, ...rest] },
      { ...standard, entries: [{ ...first, verdict: 'perfect' }, ...rest] },
      { ...standard, entries: [{ ...first, colour: 'red' }, ...rest] },
      { ...standard, entries: [] },
      { ...standard, created: 'yesterday' },
    ])
      expect(validate(wrong)).toBe(false);
  });

  test('house-standard.json has one entry for each model and string', () => {
    expect(standard.entries).toHaveLength(12);
    expect(new Set(standard.entries.map(({ model, string }) => `${model} ${string}`)).size).toBe(12);
  });

  test('house-standard.csv says what house-standard.json says, cell by cell', () => {
    const rows: Record<string, string>[] = parse(csv, { columns: true });
    // RFC 4180, rule 1: lines end in CRLF.
    expect(csv.split('\r\n')).toHaveLength(standard.entries.length + 2);
    expect(rows).toHaveLength(standard.entries.length);
    for (const [at, { saddle, rules, ...plain }] of standard.entries.entries()) {
      const costs = Object.entries(rules).map(([rule, cost]) => [`cost_${rule}`, cost]);
      const cells = { ...plain, saddle: saddle.join('|'), ...(Object.fromEntries(costs) as Record<string, number>) };
      const row = rows[at]!;
      expect(Object.keys(row).sort()).toEqual(Object.keys(cells).sort());
      for (const [name, value] of Object.entries(cells)) {
        if (typeof value === 'number') expect([name, Number(row[name])]).toEqual([name, value]);
        // OWASP, "CSV Injection": a cell that begins with such a character is kept from running by an apostrophe.
        else expect(row[name]!.replace(/^'(?=[=+\-@\t\r])/, '')).toBe(value ?? '');
      }
    }
  });

  test('no cell of house-standard.csv can run as a formula', () => {
    const records: string[][] = parse(csv);
    const cells = records.flat();
    expect(cells).toContain("'=1+1");
    expect(
      cells.filter((cell) => /^[=+@\t\r]/.test(cell) || (cell.startsWith('-') && Number.isNaN(Number(cell)))),
    ).toEqual([]);
  });

  // DESIGN section 3: t = cents17 - kappa cents12 does not change when the saddle moves, kappa = 2^(17/12) - 1; a nut
  // offset shifts every fretted note alike, so t holds (1 - kappa) of it.
  test('the targets of every entry hold its rise and nut: target17 - kappa target12 = rise + (1 - kappa) nut', () => {
    const kappa = 2 ** (17 / 12) - 1;
    const rounding = 0.0005;
    for (const { target12, target17, rise, nut } of standard.entries) {
      const gap = target17 - kappa * target12 - (rise + (1 - kappa) * nut);
      expect(Math.abs(gap)).toBeLessThan(rounding * (1 + kappa + 1 + (kappa - 1)));
    }
    expect(standard.entries.some(({ nut }) => nut !== 0)).toBe(frets.includes(1));
  });

  // DESIGN section 3: cents12 = -q t / kappa.
  test('the targets of every entry share what its share says: target12 = -share t / kappa', () => {
    const kappa = 2 ** (17 / 12) - 1;
    for (const { target12, target17, share } of standard.entries) {
      const t = target17 - kappa * target12;
      expect(Math.abs(target12 + (share * t) / kappa)).toBeLessThan(0.0015 + 0.00005 * Math.abs(t));
    }
  });

  test('the share of every entry lies in its ranges, and they in 0 to 1', () => {
    for (const { share, share_low, share_high, fine_low, fine_high } of standard.entries) {
      expect([0, fine_low, share, fine_high, 1].toSorted((a, b) => a - b)).toEqual([0, fine_low, share, fine_high, 1]);
      expect([0, share_low, share, share_high, 1].toSorted((a, b) => a - b)).toEqual([
        0,
        share_low,
        share,
        share_high,
        1,
      ]);
    }
  });

  test('strings on one saddle have one share', () => {
    for (const { model, string, saddle, share } of standard.entries) {
      expect(saddle).toEqual(string < 3 ? [1, 2] : [3, 4]);
      const others = standard.entries.filter((entry) => entry.model === model && saddle.includes(entry.string));
      expect(others.map((entry) => entry.share)).toEqual([share, share]);
    }
  });
});
