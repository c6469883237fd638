import { describe, expect, test } from 'vitest';
import { compareStandards, type EntryChange } from '../../src/policy/compare-standards.ts';
import { comparisonJson } from '../../src/policy/comparison-json.ts';
import { comparisonText } from '../../src/policy/comparison-text.ts';
import { makeStandard, type HouseStandard, type StandardEntry } from '../../src/policy/standard.ts';
import { readUsage } from '../../src/policy/usage.ts';
import { fitTrend } from '../../src/trend/fit-trend.ts';
import { simulateShop, usualShop } from '../../src/trend/simulate-shop.ts';
import { type Call, upneck } from '../clients/call.ts';

const standard = makeStandard(fitTrend(simulateShop(5, { ...usualShop, models: 3, instrumentsPerModel: 6 }).sums), [], {
  usage: readUsage('string,fret,count\n1,1,3\n1,5,2\n1,12,2\n1,17,1\n', 'usage.csv'),
  usageName: 'usage.csv',
  loss: { kind: 'audible', thresholdCents: 3 },
  created: '2026-01-02T03:04:05.000Z',
  inputs: [
    { path: 'log.csv', sha256: '0'.repeat(64) },
    { path: 'usage.csv', sha256: '1'.repeat(64) },
  ],
});

/** The same standard drawn up a month later, its first entry otherwise. */
function later(first: Partial<StandardEntry>, others: Partial<HouseStandard> = {}): HouseStandard {
  const [entry, ...rest] = standard.entries;
  return { ...standard, created: '2026-02-02T03:04:05.000Z', entries: [{ ...entry!, ...first }, ...rest], ...others };
}

const first = standard.entries[0]!;
const firstChange = (after: HouseStandard): EntryChange => compareStandards(standard, after).entries[0]!;

describe('two standards side by side', () => {
  test('a standard has not changed against itself', () => {
    const { entries, options, counts } = compareStandards(standard, standard);
    expect(options).toEqual([]);
    expect(entries).toHaveLength(standard.entries.length);
    expect(counts['as before']).toBe(standard.entries.length);
    expect(entries.flatMap(({ why }) => why)).toEqual([]);
  });

  test('a target that moved beyond the window needs the saddle set anew, one that moved less a new card', () => {
    expect(firstChange(later({ target12: first.target12 + first.window + 0.01 })).change).toBe('reset');
    expect(firstChange(later({ target12: first.target12 - first.window - 0.01 })).change).toBe('reset');
    expect(firstChange(later({ target12: first.target12 + 0.9 * first.window })).change).toBe('new card');
    // Less than the card shows.
    expect(firstChange(later({ regret: first.regret + 0.001 })).change).toBe('as before');
  });

  test('entries that stand in one standard only are new or gone', () => {
    const fewer = later({}, { entries: standard.entries.slice(1) });
    expect(compareStandards(standard, fewer).entries.at(-1)).toMatchObject({
      model: first.model,
      string: first.string,
      change: 'gone',
      after: null,
    });
    expect(compareStandards(fewer, standard).entries[0]).toMatchObject({ change: 'new', before: null });
  });

  test('says why: the rise, within what was held possible or beyond it', () => {
    const moved = { share: 0.01, rise: first.riseHigh + 1, riseHigh: first.riseHigh + 2, instruments: 60 };
    expect(firstChange(later(moved)).why.join()).toMatch(
      /rise .* beyond what the earlier standard held possible \(6 to 60 instruments\)/,
    );
    const within = { share: 0.01, rise: first.rise + 0.9 * (first.riseHigh - first.rise) };
    expect(firstChange(later(within)).why.join()).toMatch(/within what .* \(6 instruments as before\)/);
  });

  test('says why: other options, another saddle, other frets', () => {
    const other = later(
      { share: 0.01, saddle: [1, 2] },
      { options: { ...standard.options, loss: { kind: 'squared' } } },
    );
    const { options, entries } = compareStandards(standard, other);
    expect(options).toEqual(['loss: audible beyond 3 cents, now squared']);
    expect(entries[0]!.why).toEqual(['on a saddle with strings 1, now with 1, 2', 'other options']);
  });

  test('tells counts that differ from a profile of the same name', () => {
    const inputs = [standard.inputs[0]!, { path: 'usage.csv', sha256: '2'.repeat(64) }];
    expect(compareStandards(standard, later({}, { inputs })).options).toEqual([
      'usage: usage.csv, whose counts differ',
    ]);
  });

  test('as text it keeps to 80 columns, whatever the names', () => {
    const wide = later({ model: 'A model name that is longer than its column by far', target12: 4 }, {});
    const text = comparisonText(compareStandards(standard, wide));
    for (const line of text.split('\n')) expect(line.length).toBeLessThanOrEqual(80);
    expect(text).toMatch(/^ +1 {2}new +not in the earlier standard$/m);
    expect(text).toMatch(/^ +1 {2}gone /m);
  });

  test('as JSON it holds every entry and its count', () => {
    const comparison = compareStandards(standard, later({ target12: 9 }));
    const document = JSON.parse(comparisonJson(comparison)) as {
      counts: Record<string, number>;
      entries: { change: string; before: { target12: number }; after: { target12: number } }[];
    };
    expect(document.entries).toHaveLength(standard.entries.length);
    expect(document.counts).toMatchObject({ reset: 1, as_before: standard.entries.length - 1 });
    expect(document.entries[0]!.after.target12).toBe(9);
  });
});

describe('upneck compare', () => {
  const call = (...args: string[]): Promise<Call> => upneck(import.meta.dirname, 'compare', ...args);

  test('wants two files', async () => {
    const { code, stderr: text } = await call('one.json');
    expect(code).toBe(2);
    expect(text).toMatch(/found 1 file; expected two: the earlier house-standard.json and the later one/);
  });

  test('names a file that is no standard', async () => {
    const { code, stderr: text } = await call('small-shop.ts', 'small-shop.ts');
    expect(code).toBe(1);
    expect(text).toMatch(/small-shop\.ts: not JSON .*expected the house-standard\.json/);
  });
});
