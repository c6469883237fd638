import { mkdtempSync, readFileSync, rmSync, writeFileSync, existsSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Ajv2020 } from 'ajv/dist/2020.js';
import { afterAll, describe, expect, test } from 'vitest';
import { main } from '../../src/clients/cli.ts';
import { standardJson } from '../../src/policy/standard-json.ts';
import { normalRandom } from '../../src/statistics/random.ts';
import { dayAfter, inventedEntry, inventedStandard, leftReadings } from '../control/invented-bench.ts';

const folder = mkdtempSync(join(tmpdir(), 'control-'));
afterAll(() => rmSync(folder, { recursive: true }));

const hostile = '<img src=x onerror=alert(1)>';
const standard = inventedStandard(
  ['Fern', hostile].flatMap((model) => [1, 2].map((string) => inventedEntry({ model, string }))),
);
writeFileSync(join(folder, 'standard.json'), standardJson(standard));

/** A log of 60 instruments by two technicians, the second 1.5 cents sharp from the 31st on. */
function writeLog(name: string, count = 60): void {
  const normal = normalRandom(7);
  const plans = Array.from({ length: count }, (_, at) => at).flatMap((at) =>
    [1, 2].map((string) => ({
      instrument: `J${at}`,
      model: ['Fern', hostile][Math.floor(at / 2) % 2]!,
      string,
      rise: 3,
      error: 0.4 * normal() + (at % 2 === 1 && at >= 30 ? 1.5 : 0),
      technician: ['ann', 'ben'][at % 2]!,
      at: dayAfter(at),
    })),
  );
  const rows = leftReadings(standard, plans).objects() as Record<string, string | number>[];
  const lines = rows.map((row) =>
    [
      row.instrument,
      row.model,
      row.string,
      row.fret,
      row.pass,
      Number(row.cents).toFixed(2),
      row.technician,
      row.measuredAt,
    ].join(','),
  );
  writeFileSync(
    join(folder, name),
    `instrument,model,string,fret,pass,cents,technician,measured_at\n${lines.join('\n')}\n`,
  );
}
writeLog('log.csv');

async function upneck(...args: string[]): Promise<{ code: number; out: string; err: string }> {
  let [out, err] = ['', ''];
  const code = await main(args, {
    stdout: (text) => (out += text),
    stderr: (text) => (err += text),
    columns: 80,
    isTerminal: false,
    cwd: folder,
    signal: new AbortController().signal,
  });
  return { code, out, err };
}

const validate = new Ajv2020({
  strict: true,
  allErrors: true,
  formats: { 'date-time': /^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$/ },
}).compile(JSON.parse(readFileSync('shared/control.schema.json', 'utf8')) as object);
function expectBySchema(text: string): void {
  validate(JSON.parse(text));
  expect(validate.errors ?? []).toEqual([]);
}

describe('upneck control', () => {
  test('says in 80 columns who departs, since when and why, and writes page and JSON', async () => {
    const { code, out, err } = await upneck('control', 'log.csv', '--standard', 'standard.json', '--out', 'report');
    expect(err).toBe('Wrote control.html and control.json to report\n');
    expect(code).toBe(0);
    expect(Math.max(...out.split('\n').map((line) => Array.from(line).length))).toBeLessThanOrEqual(80);
    const flat = out.replace(/\s+/g, ' ');
    expect(flat).toContain('60 instruments as left, against the standard of 2026-01-01');
    expect(flat).toMatch(/ben leaves saddles 1\.\d cents sharp of the standard, since 2026-02-\d\d/);
    expect(flat).not.toContain('ann leaves');
    expect(flat).toContain('no string was read twice at fret 12');
    const page = readFileSync(join(folder, 'report/control.html'), 'utf8');
    expect(page).toContain('<figure');
    expect(page).toContain('ben leaves saddles');
    expect(page).not.toContain('<img');
    expect(page).not.toMatch(/<script|https?:\/\/(?!www\.w3\.org)/);
    expectBySchema(readFileSync(join(folder, 'report/control.json'), 'utf8'));
    const json = JSON.parse(readFileSync(join(folder, 'report/control.json'), 'utf8')) as {
      signals: { of: string; name: string; lasts: boolean }[];
      charts: { kind: string; points: unknown[] }[];
    };
    expect(json.signals).toMatchObject([{ of: 'technician', name: 'ben', lasts: true }]);
    expect(json.charts.find(({ kind }) => kind === 'shop')!.points).toHaveLength(60);
  });

  test('prints JSON alone with --json, and writes nothing', async () => {
    const { code, out, err } = await upneck('control', 'log.csv', '--standard', 'standard.json', '--json');
    expect([code, err]).toEqual([0, '']);
    expect((JSON.parse(out) as { strings: number }).strings).toBe(120);
    expectBySchema(out);
    expect(existsSync(join(folder, 'out'))).toBe(false);
  });

  test('holds the jobs before a day against those after it', async () => {
    const args = ['control', 'log.csv', '--standard', 'standard.json', '--out', 'report'];
    const { code, out } = await upneck(...args, '--adopted', '2026-02-04');
    expect(code).toBe(0);
    expect(Math.max(...out.split('\n').map((line) => Array.from(line).length))).toBeLessThanOrEqual(80);
    const flat = out.replace(/\s+/g, ' ');
    expect(flat).toContain('Before and after the standard was taken up on 2026-02-04');
    expect(flat).toContain('30 jobs left before and 30 after');
    expect(flat).toMatch(/More than before: [^.]*distance from the standard/);
    const page = readFileSync(join(folder, 'report/control.html'), 'utf8');
    expect(page).toContain('<td>distance from the standard</td>');
    expect(page).not.toContain('<img');
    const text = readFileSync(join(folder, 'report/control.json'), 'utf8');
    expectBySchema(text);
    expect(JSON.parse(text)).toMatchObject({
      adoption: { adopted: '2026-02-04T00:00:00.000Z', jobs_before: 30, jobs_after: 30, differences: { moves: null } },
      // The charts begin with the standard: nobody can follow it before.
      strings: 60,
    });
    expect(flat).toContain('30 instruments as left');
    expect(flat).toContain('30 instruments left before 2026-02-04, or without a date, count in the comparison');
  });

  test('says why nothing can be told of the day the standard was drawn up', async () => {
    const { out } = await upneck('control', 'log.csv', '--standard', 'standard.json', '--out', 'report');
    expect(out.replace(/\s+/g, ' ')).toContain(
      'Nothing can be told: no instrument was left before 2026-01-01; the first was on 2026-01-05.',
    );
  });

  test.each([
    ['tomorrow', 'found --adopted "tomorrow"; expected a day such as 2026-03-14'],
    ['2026-02-30', 'found --adopted "2026-02-30"; expected a day such as 2026-03-14'],
    [
      '2031-01-01',
      'found --adopted 2031-01-01, but no instrument was left on 2031-01-01 or later; the last was on 2026-03-05; expected a day with jobs before it and after it',
    ],
  ])('refuses --adopted %s', async (day, message) => {
    const { code, err } = await upneck('control', 'log.csv', '--standard', 'standard.json', '--adopted', day);
    expect(code).toBe(2);
    expect(err.replace(/\s+/g, ' ')).toContain(message);
  });

  test('counts instruments until the precision asked for', async () => {
    const { out } = await upneck(
      'control',
      'log.csv',
      '--standard',
      'standard.json',
      '--precision',
      '0.5',
      '--out',
      'report',
    );
    expect(out).toContain('How many more instruments for rises known to ±0.5 cents');
    expect(out.replace(/\s+/g, ' ')).toMatch(/Fern: \d+ more \(\d+ where each is read 3 times\)/);
  });

  test('writes a gauge study where two technicians read the same strings twice', async () => {
    const normal = normalRandom(4);
    const lines = Array.from({ length: 6 }, (_, at) => 3 * normal() + at).flatMap((cents, at) =>
      ['ann', 'ben'].flatMap((technician, hand) =>
        [0, 1].map(
          () => `J${at},Fern,1,12,0,${(cents + hand + 0.3 * normal()).toFixed(1)},${technician},${dayAfter(at)}`,
        ),
      ),
    );
    writeFileSync(
      join(folder, 'gauge.csv'),
      `instrument,model,string,fret,pass,cents,technician,measured_at\n${lines.join('\n')}\n`,
    );
    const { out } = await upneck('control', 'gauge.csv', '--standard', 'standard.json', '--out', 'report');
    expect(out.replace(/\s+/g, ' ')).toContain(
      'Gauge study at fret 12: 24 readings of 6 strings by 2 technicians. Repeatability 0.',
    );
    expectBySchema(readFileSync(join(folder, 'report/control.json'), 'utf8'));
    expect(readFileSync(join(folder, 'report/control.html'), 'utf8')).toContain('the same hand reads again within');
  });

  test('says that few are too few', async () => {
    writeLog('few.csv', 6);
    const { code, out } = await upneck('control', 'few.csv', '--standard', 'standard.json', '--out', 'report');
    expect(code).toBe(0);
    expect(out).toContain('- Too few instruments to judge.');
  });

  test('tells a wrong call what is missing', async () => {
    const call = await upneck('control', 'log.csv');
    expect(call.code).toBe(2);
    expect(call.err).toContain('found no --standard; expected the house-standard.json that "upneck standard" writes');
    expect((await upneck('control', '--standard', 'standard.json')).err).toContain('found no log');
    expect((await upneck('control', 'log.csv', '--standard', 'standard.json', '--precision', '-1')).code).toBe(2);
    expect((await upneck('control', 'log.csv', '--standard', 'standard.json', '--precision', 'fine')).err).toContain(
      'found --precision "fine"; expected a number of cents above 0 and up to 100, such as 0.5',
    );
    expect((await upneck('control', 'log.csv', '--standard', 'missing.json')).err).toContain(
      'missing.json: there is no such file',
    );
  });
});
