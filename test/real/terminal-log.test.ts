import { spawn, type ChildProcessWithoutNullStreams } from 'node:child_process';
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, truncateSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { main } from '../../src/clients/cli.ts';
import { standardJson } from '../../src/policy/standard-json.ts';
import { standardOf } from '../bench-worksheets/bench-standard.ts';
import { needs } from '../real-clients.ts';

const python = needs('pty');
const launcher = resolve('src/clients/upneck.mjs');

/** Runs a command on a terminal of 80 columns and passes keys and screen on; the command's process number goes to stderr. */
const onTerminal = `
import fcntl, os, pty, select, struct, sys, termios
pid, terminal = pty.fork()
if pid == 0:
    os.execvp(sys.argv[1], sys.argv[1:])
fcntl.ioctl(terminal, termios.TIOCSWINSZ, struct.pack('HHHH', 24, 80, 0, 0))
print(pid, file=sys.stderr, flush=True)
watched = [terminal, 0]
while True:
    ready = select.select(watched, [], [])[0]
    if terminal in ready:
        try:
            shown = os.read(terminal, 4096)
        except OSError:
            break
        if not shown:
            break
        os.write(1, shown)
    if 0 in ready:
        keys = os.read(0, 4096)
        if keys:
            os.write(terminal, keys)
        else:
            watched.remove(0)
status = os.waitpid(pid, 0)[1]
sys.exit(os.WEXITSTATUS(status) if os.WIFEXITED(status) else 128 + os.WTERMSIG(status))
`;

/** How long a text is waited for on the screen, in ms; starting takes a second or two. */
const patience = 30_000;

let folder = '';
let terminals: Terminal[] = [];
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'terminal-log-'));
  terminals = [];
  const model = { model: 'Larch 6', rises: [3, 3, 3, 3, 3, 3], share: 0 };
  writeFileSync(join(folder, 'standard.json'), standardJson(standardOf([model])));
});
afterEach(() => {
  for (const terminal of terminals) terminal.stop();
  rmSync(folder, { recursive: true });
});

/** upneck log on a terminal, as a technician has it before them. */
class Terminal {
  private readonly process: ChildProcessWithoutNullStreams;
  private readonly ended: Promise<number>;
  private shown = '';
  private number = '';
  private seen = 0;
  private awaited: (() => void) | undefined;

  constructor(...args: string[]) {
    const command = [process.execPath, launcher, 'log', ...args];
    this.process = spawn(python.path, ['-c', onTerminal, ...command], {
      cwd: folder,
      env: { ...process.env, TERM: 'dumb' },
    });
    this.process.stdout.on('data', (data: Buffer) => {
      this.shown += data.toString();
      this.awaited?.();
    });
    this.process.stderr.on('data', (data: Buffer) => (this.number += data.toString()));
    this.ended = new Promise((done) => {
      this.process.once('close', (code) => {
        this.awaited?.();
        done(code ?? -1);
      });
    });
    terminals.push(this);
  }

  /** All that was on the screen. */
  get screen(): string {
    return this.shown.replaceAll('\r\n', '\n');
  }

  keys(text: string): void {
    this.process.stdin.write(text);
  }

  /** Waits until a text stands on the screen, after what was waited for before. */
  async see(text: string): Promise<void> {
    for (;;) {
      const at = this.screen.indexOf(text, this.seen);
      if (at >= 0) {
        this.seen = at + text.length;
        return;
      }
      if (this.process.exitCode !== null) throw new Error(`Ended before "${text}" was seen:\n${this.screen}`);
      const isLate = await Promise.race([
        new Promise<false>(
          (done) =>
            (this.awaited = () => {
              done(false);
            }),
        ),
        new Promise<true>((done) => setTimeout(done, patience, true).unref()),
      ]);
      if (isLate) throw new Error(`"${text}" was not seen in ${patience / 1000} s:\n${this.screen}`);
    }
  }

  /** Types a line at a prompt, and waits for what it is answered with. */
  async type(prompt: string, line: string, answer: string): Promise<void> {
    await this.see(prompt);
    this.keys(`${line}\n`);
    await this.see(answer);
  }

  end(): Promise<number> {
    return this.ended;
  }

  /** kill -9 of upneck itself. */
  kill(): Promise<number> {
    process.kill(Number(this.number), 'SIGKILL');
    return this.ended;
  }

  stop(): void {
    if (this.process.exitCode === null) this.process.kill('SIGKILL');
  }
}

const file = (): string => join(folder, 'bench.csv');
const lines = (): string[] => readFileSync(file(), 'utf8').split('\r\n').slice(1, -1);
const begin = [
  'bench.csv',
  '--instrument',
  'J1',
  '--model',
  'Larch 6',
  '--standard',
  'standard.json',
  '--technician',
  'ann',
];
const resume = ['bench.csv', '--standard', 'standard.json', '--technician', 'ann'];

/** Rows read and refused by `upneck import`. */
async function imported(): Promise<{ rows: number; readings: number; rejects: number }> {
  let stdout = '';
  const io = { columns: 80, isTerminal: false, cwd: folder, signal: new AbortController().signal };
  const code = await main(['import', 'bench.csv', '--json'], {
    ...io,
    stdout: (text) => (stdout += text),
    stderr: () => undefined,
  });
  expect(code).toBe(0);
  return (JSON.parse(stdout) as { totals: { rows: number; readings: number; rejects: number } }).totals;
}

describe.skipIf(!python.found)('upneck log on a terminal', { timeout: 120_000 }, () => {
  test('killed with -9 while a line is typed loses that line alone, and is resumed where it was', async () => {
    const first = new Terminal(...begin);
    await first.type('string 1, fret 12> ', '+4', 'string 1, fret 12: +4.0 cents, saved');
    await first.type('string 1, fret 17> ', '+9,7', 'back, away from the neck');
    await first.type('Enter for 2> ', '', 'string 2, fret 12> ');
    first.keys('-1.5\n');
    await first.see('string 2, fret 12: -1.5 cents, saved');
    await first.see('string 2, fret 17> ');
    first.keys('+2');
    await first.see('+2');
    expect(await first.kill()).toBe(128 + 9);
    expect(lines().map((line) => line.split(',').slice(2, 6).join())).toEqual([
      '1,12,0,4',
      '1,17,0,9.7',
      '2,12,0,-1.5',
    ]);
    expect(existsSync(join(folder, '.bench.csv.lock'))).toBe(true);

    const second = new Terminal(...resume);
    await second.see('bench.csv holds 3 readings, the last of J1.');
    await second.see('J1, Larch 6 (6 strings), pass 0\n  string 1: 12 +4.0, 17 +9.7\n  string 2: 12 -1.5\n');
    await second.type('string 2, fret 17> ', '+0.5', 'string 2, fret 17: +0.5 cents, saved');
    await second.type('Enter for 3> ', 'end', '1 reading saved in this session; bench.csv holds 4.');
    expect(await second.end()).toBe(0);
    expect(await imported()).toEqual({ rows: 4, readings: 4, rejects: 0 });
    expect(existsSync(join(folder, '.bench.csv.lock'))).toBe(false);
  });

  test("an unfinished line from before, which a killed session leaves in the terminal, is not read as this one's", async () => {
    const terminal = new Terminal(...begin);
    terminal.keys('17 +1.');
    await terminal.see('Typed before the log was open, and not taken: "17 +1.".');
    await terminal.type('string 1, fret 12> ', '+4', 'string 1, fret 12: +4.0 cents, saved');
    await terminal.see('string 1, fret 17> ');
    terminal.keys('end\n');
    expect(await terminal.end()).toBe(0);
    expect(lines()).toHaveLength(1);
  });

  test('killed with -9 at any moment of a quick hand has every reading in the file that it said was saved', async () => {
    const terminal = new Terminal(...begin);
    await terminal.see('string 1, fret 12> ');
    const typed = Array.from({ length: 60 }, (_, at) => `${1 + (at % 6)} ${1 + Math.floor(at / 6)} +${at}.5`).slice(
      0,
      50,
    );
    terminal.keys(typed.map((line) => `${line}\n`).join(''));
    await terminal.see('string 2, fret 4: +19.5 cents, saved');
    await terminal.kill();
    const said = [...terminal.screen.matchAll(/: \+(\d+\.\d) cents, saved/g)].map((match) => match[1]!);
    const saved = lines().map((line) => line.split(',')[5]!);
    expect(saved.slice(0, said.length)).toEqual(said);
    expect(saved.length - said.length).toBeLessThanOrEqual(1);
    const { rejects } = await imported();
    expect(rejects).toBe(0);
  });

  test('begun again after a write was torn keeps what was whole, and what was torn beside the log', async () => {
    const first = new Terminal(...begin);
    await first.type('string 1, fret 12> ', '+4', 'saved');
    await first.type('string 1, fret 17> ', '+9.7', 'back, away from the neck');
    await first.see('> ');
    await first.kill();
    const whole = readFileSync(file(), 'utf8');
    const torn = whole.slice(whole.lastIndexOf('\n', whole.length - 2) + 1).slice(0, 20);
    truncateSync(file(), statSync(file()).size - (whole.length - whole.lastIndexOf('\n', whole.length - 2) - 1) + 20);

    const second = new Terminal(...resume);
    await second.see('The last row of bench.csv was cut off while it was written.');
    await second.see('bench.csv holds 1 reading, the last of J1.');
    await second.type('string 1, fret 17> ', '+9.7', 'back, away from the neck');
    await second.type('Enter for 2> ', 'end', 'bench.csv holds 2.');
    expect(await second.end()).toBe(0);
    expect(lines().map((line) => line.split(',').slice(2, 6).join())).toEqual(['1,12,0,4', '1,17,0,9.7']);
    expect(readFileSync(join(folder, 'bench.csv.torn'), 'utf8').split('\r\n')[1]).toBe(torn);
    expect(await imported()).toEqual({ rows: 2, readings: 2, rejects: 0 });
  });

  test('keeps a second terminal out while the first is open', async () => {
    const first = new Terminal(...begin);
    await first.type('string 1, fret 12> ', '+4', 'saved');
    const second = new Terminal(...resume);
    await second.see('is logging to it. End that one, or give another file.');
    expect(await second.end()).toBe(1);
    await first.type('string 1, fret 17> ', '+9.7', 'saved');
    first.keys('end\n');
    expect(await first.end()).toBe(0);
    expect(lines()).toHaveLength(2);
  });

  test('ends with Ctrl-C and with Ctrl-D as with "end", moves no cursor and stays in 80 columns', async () => {
    for (const key of ['\x03', '\x04']) {
      const terminal = new Terminal(...begin);
      await terminal.type('> ', '1 12 +4', 'saved');
      await terminal.type('> ', 'help', 'every reading is saved the moment it is typed');
      await terminal.type('> ', 'worksheet', 'Mind');
      await terminal.see('> ');
      // The terminal's own backspace mends what is typed.
      await terminal.type('', '17 +99\x7f\x7f9.7', 'fret 17: +9.7 cents, saved');
      await terminal.see('> ');
      terminal.keys(key);
      await terminal.see('saved in this session');
      expect(await terminal.end()).toBe(0);
      expect(existsSync(join(folder, '.bench.csv.lock'))).toBe(false);
      // What the terminal itself shows for a backspace aside.
      const own = terminal.screen.replaceAll('\b \b', '');
      // eslint-disable-next-line no-control-regex
      expect(own.replace('^C', '').replace('^D\b\b', '')).not.toMatch(/[\x00-\x09\x0b-\x1f]/);
      expect(own.split('\n').filter((line) => line.length > 80)).toEqual([]);
    }
  });
});
