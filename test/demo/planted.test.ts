import { beforeAll, expect, test } from 'vitest';
import type { Fault } from '../../data/demo/plan.ts';
import { makeShop, type FindingTruth, type Shop } from '../../data/demo/make-shop.ts';
import { goodText, parseLog, type Written } from './parse-log.ts';

const seeds = Array.from({ length: 30 }, (_, i) => 201 + i);
/** 30 shops, each with eight faults and seven findings, and their readings. */
let shops: { shop: Shop; readings: Written[] }[] = [];

beforeAll(() => {
  shops = seeds.map((seed) => {
    const shop = makeShop(seed);
    const readings = shop.truth.files.flatMap(({ path }) =>
      parseLog(path, goodText(path, Buffer.from(shop.files[path]!), shop.truth.badRows)),
    );
    return { shop, readings };
  });
});

const kappa = 2 ** (17 / 12) - 1;

/** What a string reads at a fret beyond what its truth and the line through its 5th and 12th fret explain. */
function excess({ truth }: Shop, block: readonly Written[], fret: number): number {
  const { instrument, model, string, technician } = block[0]!;
  const own = truth.instruments.find((one) => one.instrument === instrument)!;
  const cell = truth.cells.find((one) => one.model === model && one.string === string)!;
  const hand = truth.technicians.find((one) => one.technician === technician)!;
  const nut = cell.nut + hand.nut + own.a[string - 1]!;
  const rise = cell.rise + hand.rise + own.b + own.c[string - 1]!;
  const known = (n: number): number =>
    block.find((one) => one.fret === n)!.cents - nut - (rise * Math.max(0, n - 12)) / 5;
  // The saddle's part grows as 2^(n/12) - 1 (DESIGN section 3), 1 at the 12th.
  return known(fret) - (2 ** (fret / 12) - 1) * known(12);
}

/** Means of the excess over all planted faults of a kind, as received, on the strings touched or the others. */
function excesses(kind: Fault['kind'], fretOf: (fault: Fault) => number, which: 'touched' | 'others'): number[] {
  return shops.flatMap(({ shop, readings }) =>
    shop.truth.faults
      .filter((fault) => fault.kind === kind)
      .flatMap((fault) => {
        const own = readings.filter((one) => one.instrument === fault.instrument && one.pass === 0);
        const strings = [...new Set(own.map(({ string }) => string))];
        return strings
          .filter((string) => fault.strings.includes(string) === (which === 'touched'))
          .map((string) =>
            excess(
              shop,
              own.filter((one) => one.string === string),
              fretOf(fault),
            ),
          );
      }),
  );
}

function mean(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

// Each excess has a standard deviation of about 0.5 sqrt(1 + kappa^2) = 0.97 cents; the bounds are 4 standard errors.
const bound = (values: readonly number[], sd = 0.5 * Math.sqrt(1 + kappa ** 2)): number =>
  (4 * sd * 1.1) / Math.sqrt(values.length);

test('an instrument with all strings high rises 5 cents more on every string', () => {
  const high = excesses('all-strings-high', () => 17, 'touched');
  expect(Math.abs(mean(high) - 5)).toBeLessThan(bound(high));
});

test('an instrument with one bad string rises 8 to 9 cents more on that string only', () => {
  const faults = shops.flatMap(({ shop }) => shop.truth.faults.filter(({ kind }) => kind === 'one-string'));
  expect(faults.every(({ cents, strings }) => cents >= 8 && cents <= 9 && strings.length === 1)).toBe(true);
  const touched = excesses('one-string', () => 17, 'touched');
  expect(Math.abs(mean(touched) - mean(faults.map(({ cents }) => cents)))).toBeLessThan(bound(touched));
  const others = excesses('one-string', () => 17, 'others');
  expect(Math.abs(mean(others))).toBeLessThan(bound(others));
});

test('an instrument with one bad fret reads 5 cents high there on all strings, and not at the 17th', () => {
  const there = excesses('one-fret', ({ frets }) => frets[0]!, 'touched');
  expect(Math.abs(mean(there) - 5)).toBeLessThan(bound(there));
  const at17 = excesses('one-fret', () => 17, 'touched');
  expect(Math.abs(mean(at17))).toBeLessThan(bound(at17));
});

test('magnets too close leave the low strings unbiased but poorly repeatable', () => {
  const low = excesses('poor-low-strings', () => 17, 'touched');
  const others = excesses('poor-low-strings', () => 17, 'others');
  const sd = (values: readonly number[]): number => Math.sqrt(mean(values.map((value) => value ** 2)));
  expect(Math.abs(mean(low))).toBeLessThan(bound(low, 3 * Math.sqrt(1 + kappa ** 2)));
  // 3 cents against 0.5, six times; a standard deviation of n values is known to 1 / sqrt(2 n).
  expect(sd(low) / sd(others)).toBeGreaterThan(6 * (1 - 4 / Math.sqrt(low.length)));
});

const checks: Record<string, (finding: FindingTruth, own: readonly Written[], all: readonly Written[]) => void> = {
  duplicate: (_, own) => {
    const cells = own.map(({ fret, pass, cents }) => `${fret} ${pass} ${cents}`);
    expect(cells.length - new Set(cells).size).toBe(1);
  },
  'two-models': ({ instrument }, _, all) => {
    const models = all.filter((one) => one.instrument === instrument).map(({ model }) => model);
    expect(new Set(models).size).toBe(2);
  },
  'large-error': (_, own) => {
    expect(own.filter(({ cents }) => Math.abs(cents) > 50).length).toBe(1);
  },
  'twelfth-without-seventeenth': (_, own) => {
    const count = (fret: number): number => own.filter((one) => one.fret === fret).length;
    expect(count(12) - count(17)).toBe(1);
  },
  'sign-slip': (_, own) => {
    const [before, after] = [0, 1].map((pass) => own.find((one) => one.fret === 12 && one.pass === pass)!);
    expect(after!.saddleMm).toBeGreaterThan(before!.saddleMm);
    expect(after!.cents).toBeGreaterThan(before!.cents);
  },
  'assumed-tuning': (_, own) => {
    // Read in hertz as received without an open string: no cents without a tuning.
    expect(own.map(({ pass, cents }) => Number.isNaN(cents) === (pass === 0))).not.toContain(false);
  },
  'whole-numbers': (_finding, _own, all) => {
    const whole = (technician: string): boolean =>
      all.filter((one) => one.technician === technician).every(({ cents }) => Number.isInteger(cents));
    expect(['tech-a', 'tech-b', 'tech-c'].map(whole)).toEqual([false, true, false]);
  },
};

test('each planted finding is in the logs, and only where the truth says', () => {
  for (const { shop, readings } of shops) {
    expect(shop.truth.findings.map(({ kind }) => kind).sort()).toEqual(Object.keys(checks).sort());
    for (const finding of shop.truth.findings) {
      const own = readings.filter((one) => one.instrument === finding.instrument && one.string === finding.string);
      checks[finding.kind]!(finding, own, readings);
    }
    const wild = readings.filter(({ cents }) => Math.abs(cents) > 50);
    expect(wild.length).toBe(1);
  }
});
