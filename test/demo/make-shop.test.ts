import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, readdirSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { defaultSeed, makeShop, type Shop } from '../../data/demo/make-shop.ts';
import { truthJson } from '../../data/demo/truth-json.ts';
import { goodText, parseLog, textOf } from './parse-log.ts';

const shop = makeShop(defaultSeed);
const bytesOf = ({ files }: Shop, path: string): Uint8Array => Buffer.from(files[path]!);
const logsOf = ({ truth }: Shop): string[] => truth.files.map(({ path }) => path);

test('makeShop gives the same bytes for the same seed, and another shop for another seed', () => {
  expect(makeShop(defaultSeed)).toEqual(shop);
  expect(makeShop(defaultSeed + 1).truth.cells).not.toEqual(shop.truth.cells);
});

test.each([0, -1, 1.5, Number.NaN, 2 ** 32])('makeShop refuses the seed %s', (seed) => {
  expect(() => makeShop(seed)).toThrow(
    `Cannot seed a demo shop with ${seed}; expected a whole number from 1 to 4294967295`,
  );
});

test('the committed demo shop is what the generator writes for its default seed', () => {
  const expected = { ...shop.files, 'truth.json': truthJson(shop.truth) };
  for (const [name, content] of Object.entries(expected))
    expect(readFileSync(`data/demo/${name}`).equals(Buffer.from(content)), name).toBe(true);
  const committed = readdirSync('data/demo').filter((name) => /\.(csv|tsv|json)$/.test(name));
  expect(committed.sort()).toEqual(Object.keys(expected).sort());
});

test('truthJson is JSON of the whole truth', () => {
  expect(JSON.parse(truthJson(shop.truth))).toEqual(shop.truth);
});

test('generate.ts writes a shop of any seed to any folder', () => {
  const folder = mkdtempSync(join(tmpdir(), 'demo-shop-'));
  try {
    execFileSync(process.execPath, ['--import', 'tsx', 'data/demo/generate.ts', '--seed', '5', '--out', folder]);
    const { files, truth } = makeShop(5);
    expect(readdirSync(folder).sort()).toEqual([...Object.keys(files), 'truth.json'].sort());
    for (const [name, content] of Object.entries({ ...files, 'truth.json': truthJson(truth) }))
      expect(readFileSync(join(folder, name)).equals(Buffer.from(content)), name).toBe(true);
  } finally {
    rmSync(folder, { recursive: true });
  }
});

// An outside reader in strict mode: with the listed bad lines taken out, each log must be flawless, and nothing missing.
test.each([defaultSeed, 1, 2, 3, 4, 5])(
  'shop %i: without its listed bad lines every log reads strictly, row for row',
  (seed) => {
    const made = makeShop(seed);
    for (const { path, rows, readings, rejects } of made.truth.files) {
      expect(rows, path).toBe(readings + rejects);
      expect(made.truth.badRows.filter(({ file }) => file === path).length, path).toBe(rejects);
      const read = parseLog(path, goodText(path, bytesOf(made, path), made.truth.badRows));
      expect(read.length, path).toBe(readings);
      for (const { fret, string, pass, measuredAt } of read) {
        expect([fret, string, pass].every(Number.isInteger)).toBe(true);
        expect(measuredAt).toMatch(/^2026-0[1-6]-[0-3]\d(T\d\d:\d\d(:00Z)?)?$/);
      }
    }
  },
);

test('makeShop leaves no trace of faults, findings or bad rows when nothing is to be planted', () => {
  const clean = makeShop(3, { planted: 'nothing' });
  expect(clean.truth).toMatchObject({ faults: [], badRows: [] });
  expect(clean.truth.findings.map(({ kind }) => kind)).toEqual(['whole-numbers']);
  for (const { path, rows, readings, rejects } of clean.truth.files) {
    expect(rejects).toBe(0);
    const read = parseLog(path, textOf(path, bytesOf(clean, path)));
    expect(read.length).toBe(readings);
    expect(rows).toBe(readings);
    expect(read.every(({ cents }) => Math.abs(cents) < 50)).toBe(true);
  }
});

test('makeShop spreads 140 instruments unevenly over models, each read by every technician', () => {
  const counts = new Map<string, number>();
  const hands = new Map<string, Set<string>>();
  for (const { model, technician } of shop.truth.instruments) {
    counts.set(model, (counts.get(model) ?? 0) + 1);
    hands.set(model, (hands.get(model) ?? new Set()).add(technician));
  }
  expect(shop.truth.instruments.length).toBe(140);
  expect(counts.size).toBeGreaterThanOrEqual(7);
  expect(Math.min(...counts.values())).toBe(4);
  expect([...hands.values()].every((set) => set.size === 3)).toBe(true);
  const many = shop.truth.instruments.filter(({ manyFrets }) => manyFrets).length;
  expect(Math.abs(many - 140 / 3)).toBeLessThan(5);
});

test('makeShop can plant everything in any shop', () => {
  for (let seed = 1; seed <= 30; seed++) {
    const { truth } = makeShop(seed);
    expect(truth.faults.length, `seed ${seed}`).toBe(8);
    expect(truth.findings.length, `seed ${seed}`).toBe(7);
    expect(truth.badRows.length, `seed ${seed}`).toBe(shop.truth.badRows.length);
  }
});

test('the logs come in three dialects: marks, line ends, encodings and decimal commas as their readers must expect', () => {
  const bom = [0xef, 0xbb, 0xbf];
  for (const path of logsOf(shop)) {
    const bytes = bytesOf(shop, path);
    expect([...bytes.subarray(0, 3)].join() === bom.join(), path).toBe(path === 'tech-b-apr-jun.csv');
    const text = textOf(path, bytes);
    const bare = text.replaceAll('\r\n', '').includes('\n');
    expect(bare, path).toBe(path.startsWith('tech-a'));
    // A line break inside a quoted note, so that physical lines and records differ.
    expect(/"[^"\n]*,?;?\r?\n[^"\n]+/.test(text), path).toBe(true);
  }
  for (const path of ['tech-c-jan-mar.csv', 'tech-c-apr-jun.csv']) {
    const bytes = bytesOf(shop, path);
    expect(() => new TextDecoder('utf-8', { fatal: true }).decode(bytes)).toThrow();
    expect(textOf(path, bytes)).toMatch(/[äöüß]/);
    expect(textOf(path, bytes)).toMatch(/;-?\d+,\d;/);
  }
});
