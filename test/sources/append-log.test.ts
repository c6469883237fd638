import { Buffer } from 'node:buffer';
import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import {
  appendFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  truncateSync,
  writeFileSync,
} from 'node:fs';
import { hostname, tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { loggedReadings, type RowCells } from '../../src/logs/append-log.ts';
import { readLog } from '../../src/logs/read-log.ts';
import { openLog, type AppendedLog } from '../../src/sources/append-log.ts';

let folder = '';
let path = '';
let told: string[] = [];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'append-log-'));
  path = join(folder, 'bench.csv');
  told = [];
});
afterEach(() => {
  rmSync(folder, { recursive: true });
});

function opened(): Promise<AppendedLog> {
  const tell = (sentence: string): void => void told.push(sentence);
  return openLog(path, { shown: 'bench.csv', reads: 'cents', technician: true, models: [], tell });
}

const text = (): string => readFileSync(path, 'utf8');
const row = (string: number, cents: string, note = ''): RowCells => ({
  ...{ instrument: 'J1', model: 'Larch 6', string: String(string), fret: '12', pass: '0', cents },
  ...{ measured_at: '2026-11-25T14:30:00Z', technician: 'ann', note },
});

test('openLog writes nothing before the first reading, then header and row, and gives its lock back', async () => {
  const log = await opened();
  expect(readdirSync(folder)).toEqual(['.bench.csv.lock']);
  expect(await log.append(row(1, '1.5'))).toMatchObject({ string: 1, fret: 12, cents: 1.5, technician: 'ann' });
  expect(text().split('\r\n')).toEqual([
    'instrument,model,string,fret,pass,cents,open_cents,measured_at,technician,saddle_mm,note',
    'J1,Larch 6,1,12,0,1.5,,2026-11-25T14:30:00Z,ann,,',
    '',
  ]);
  await log.close();
  expect(readdirSync(folder)).toEqual(['bench.csv']);
});

test('openLog finds the readings of an earlier session and goes on after them', async () => {
  const first = await opened();
  await first.append(row(1, '1.5'));
  await first.close();
  const second = await opened();
  await second.append(row(2, '-2'));
  expect(second.readings().map(({ string, cents }) => [string, cents])).toEqual([
    [1, 1.5],
    [2, -2],
  ]);
  await second.close();
  expect(readLog(text(), 'bench.csv').totals).toEqual({ rows: 2, readings: 2, rejects: 0 });
});

// The last row cut at every byte: what a crash or a full disk can leave. Nothing is lost and no reading is made up. A row is
// whole from where its note begins (an empty note, its letters, CR), within quotes only once they are closed: RFC 4180.
test.each([
  ['dull', 6],
  ['Saite, „alt“; dull', 3],
])(
  'openLog mends a last row with note %j cut anywhere: its bytes stay, and no number becomes another',
  async (note, whole) => {
    const log = await opened();
    await log.append(row(1, '1.5', 'old string'));
    await log.append(row(2, '-12.75', note));
    await log.close();
    const bytes = readFileSync(path);
    const from = bytes.lastIndexOf('\n', bytes.length - 2) + 1;
    const all = loggedReadings(readLog(bytes, 'bench.csv').readings);
    let kept = 0;
    for (let size = from + 1; size < bytes.length; size++) {
      writeFileSync(path, bytes.subarray(0, size));
      rmSync(`${path}.torn`, { force: true });
      told = [];
      const again = await opened();
      const read = again.readings();
      expect(told, `cut at byte ${size}`).toHaveLength(1);
      expect(read).toEqual(all.slice(0, read.length));
      await again.append(row(3, '3'));
      await again.close();
      expect(readLog(readFileSync(path), 'bench.csv').totals).toMatchObject({ readings: read.length + 1, rejects: 0 });
      if (read.length === 2) {
        kept++;
        expect(readFileSync(path).subarray(0, size)).toEqual(bytes.subarray(0, size));
      } else {
        const aside = readFileSync(`${path}.torn`);
        const header = bytes.indexOf('\n') + 1;
        expect(aside.subarray(header)).toEqual(Buffer.concat([bytes.subarray(from, size), Buffer.from('\r\n')]));
      }
    }
    expect(kept).toBe(whole);
  },
);

test('openLog says what it mended', async () => {
  writeFileSync(
    path,
    'instrument,model,string,fret,pass,cents,measured_at,technician\nJ1,Larch 6,1,12,0,1.5,,ann\nJ1,Lar',
  );
  await (await opened()).close();
  expect(told).toEqual([
    'The last row of bench.csv was cut off while it was written. It was moved to bench.csv.torn: "J1,Lar"',
  ]);
  expect(text()).toBe('instrument,model,string,fret,pass,cents,measured_at,technician\nJ1,Larch 6,1,12,0,1.5,,ann\n');
  truncateSync(path, text().length - 1);
  told = [];
  await (await opened()).close();
  expect(told).toEqual([
    'The last row of bench.csv had no line break at its end; it got one. Look whether it is whole: "J1,Larch 6,1,12,0,1.5,,ann"',
  ]);
});

describe('undo', () => {
  test('takes the last row off and keeps it, with a header, where no folder of logs is read', async () => {
    const log = await opened();
    await log.append(row(1, '1.5'));
    const before = text();
    await log.append(row(2, '63'));
    const last = (await log.last())!;
    expect(last).toMatchObject({ isOwn: true, reading: { string: 2, cents: 63 } });
    await log.undo(last);
    expect(text()).toBe(before);
    expect(log.readings()).toHaveLength(1);
    expect(readLog(readFileSync(`${path}.undone`), 'undone').readings.get('cents', 0)).toBe(63);
    await log.append(row(2, '6.3'));
    expect(readLog(text(), 'bench.csv').readings.array('cents')).toEqual([1.5, 6.3]);
    await log.close();
  });

  test('knows a row of an earlier session, and that a header is no reading', async () => {
    const first = await opened();
    await first.append(row(1, '1.5'));
    await first.close();
    const log = await opened();
    const last = (await log.last())!;
    expect(last.isOwn).toBe(false);
    await log.undo(last);
    expect(await log.last()).toBeNull();
    await log.close();
  });

  test('leaves a row alone that another program has written in the meantime', async () => {
    const log = await opened();
    await log.append(row(1, '1.5'));
    const last = (await log.last())!;
    appendFileSync(path, 'J9,Larch 6,1,12,0,2.5,,,,,\r\n');
    await expect(log.undo(last)).rejects.toThrow('another program has written to it since; look at it first');
    expect(readLog(text(), 'bench.csv').totals.readings).toBe(2);
    await log.close();
  });
});

test('append goes on after what another program has written, and says so', async () => {
  const log = await opened();
  await log.append(row(1, '1.5'));
  appendFileSync(path, 'J9,Larch 6,1,12,0,2.5,,,,,\r\n');
  await log.append(row(2, '3.5'));
  expect(told).toEqual(['bench.csv was changed by another program; it was read again and holds 2 readings.']);
  expect(readLog(text(), 'bench.csv').readings.array('cents')).toEqual([1.5, 2.5, 3.5]);
  await log.close();
});

test('append fails where the file is gone, and saves again once it is back', async () => {
  const log = await opened();
  await log.append(row(1, '1.5'));
  const before = text();
  rmSync(path);
  await expect(log.append(row(2, '2'))).rejects.toThrow(
    'bench.csv: the file is gone. Put it back, or end and begin another',
  );
  writeFileSync(path, before);
  await log.append(row(2, '2'));
  expect(log.readings()).toHaveLength(2);
  await log.close();
});

// RLIMIT_FSIZE of POSIX (setrlimit): a write that would pass it is cut short at the limit, as on a disk just full.
test.skipIf(process.platform === 'win32')('append takes back a row that the disk cut short', () => {
  const script = `
    import { openLog } from ${JSON.stringify(join(process.cwd(), 'src/sources/append-log.ts'))};
    const log = await openLog(${JSON.stringify(path)}, { shown: 'bench.csv', reads: 'cents', technician: false, models: [], tell() {} });
    let saved = 0;
    const row = { instrument: 'J1', model: 'Larch 6', string: '1', fret: '12', pass: '0', cents: '1.5', note: 'x'.repeat(300) };
    try { for (;;) { await log.append(row); saved++; } } catch (error) { console.log(saved + ' ' + error.message); }
    await log.close();`;
  const command = `ulimit -f 4; exec "$0" --import tsx --input-type=module -e "$1"`;
  const { stdout, stderr } = spawnSync('sh', ['-c', command, process.execPath, script], {
    encoding: 'utf8',
    env: { ...process.env, TSX_DISABLE_CACHE: '1' },
  });
  const saved = Number(
    /^(\d+) bench\.csv: cannot be written: it may not grow larger\. Give another file\n$/.exec(stdout)?.[1],
  );
  expect(saved, stdout + stderr).toBeGreaterThan(2);
  expect(text().endsWith('\r\n')).toBe(true);
  expect(readLog(text(), 'bench.csv').totals).toEqual({ rows: saved, readings: saved, rejects: 0 });
});

describe('the lock', () => {
  const lock = (): string => join(folder, '.bench.csv.lock');
  let other: ChildProcess | undefined;
  afterEach(() => {
    other?.kill('SIGKILL');
  });

  test('keeps a second process out while the first one runs, and no longer', async () => {
    other = spawn(process.execPath, ['-e', 'setInterval(() => {}, 1000)']);
    const content = `${other.pid} ${hostname()}\n`;
    writeFileSync(lock(), content);
    await expect(opened()).rejects.toThrow(
      `bench.csv: process ${other.pid} is logging to it. End that one, or give another file. If no such process runs, delete ${lock()}`,
    );
    expect(readFileSync(lock(), 'utf8')).toBe(content);
    const gone = new Promise((resolve) => other!.once('exit', resolve));
    other.kill('SIGKILL');
    await gone;
    const log = await opened();
    expect(readFileSync(lock(), 'utf8')).toBe(`${process.pid} ${hostname()}\n`);
    await log.close();
    expect(existsSync(lock())).toBe(false);
  });

  test('of another machine is not taken over, for nobody can tell from here whether that one runs', async () => {
    writeFileSync(lock(), '4321 bench-two.example\n');
    await expect(opened()).rejects.toThrow('process 4321 on bench-two.example is logging to it');
  });

  test('is given back where the file is refused', async () => {
    writeFileSync(path, 'instrument,model,string,f12,f17\n');
    await expect(opened()).rejects.toThrow('one string a row');
    expect(readdirSync(folder)).toEqual(['bench.csv']);
  });
});

test('openLog keeps a byte order mark, CRLF, semicolons and decimal commas', async () => {
  const start =
    '\ufeffinstrument;model;string;fret;pass;cents;measured_at;technician;note\r\nJ1;Larch 6;1;12;0;1,5;;ann;\r\n';
  writeFileSync(path, start);
  const log = await opened();
  await log.append(row(2, '-2.5', 'a; b'));
  await log.close();
  expect(text()).toBe(`${start}J1;Larch 6;2;12;0;-2,5;2026-11-25T14:30:00Z;ann;"a; b"\r\n`);
});

test('openLog says which folder does not exist, and that a folder is none', async () => {
  await expect(
    openLog(join(folder, 'no/bench.csv'), {
      shown: 'no/bench.csv',
      reads: 'cents',
      technician: false,
      models: [],
      tell: () => undefined,
    }),
  ).rejects.toThrow('no/bench.csv: cannot be written: its folder does not exist. Make it, or give another place');
  await expect(
    openLog(folder, { shown: 'logs', reads: 'cents', technician: false, models: [], tell: () => undefined }),
  ).rejects.toThrow('logs: a folder, not a file. Give the name of a file in it');
  expect(Buffer.from(readdirSync(folder).join())).toHaveLength(0);
});
