import { Buffer } from 'node:buffer';
import { createInterface, type Interface } from 'node:readline';
import { setTimeout } from 'node:timers/promises';
import type { ReadStream } from 'node:tty';

/** Where lines are typed. */
export interface Lines {
  readonly lines: AsyncIterable<string>;
  /** Whether what is typed shows on the screen by itself. */
  readonly isTerminal: boolean;
  /** What was typed before anything was asked, on one line; it is not among the lines. */
  readonly early?: string;
}

/** How long keys typed early are waited for, in ms: the terminal has them already. */
const earlyWait = 60;

/** Lines from the keyboard or a pipe. No cursor is moved: the terminal's own line editing is all that is used. */
export async function typedLines(signal: AbortSignal): Promise<Lines> {
  // A session that was killed leaves its unfinished line in the terminal; it would join the first line of this one.
  const early = process.stdin.isTTY ? await takeEarly(process.stdin) : '';
  const reader = createInterface({ input: process.stdin, terminal: false, crlfDelay: Infinity });
  signal.addEventListener('abort', () => {
    reader.close();
  });
  return { lines: closing(reader), isTerminal: process.stdin.isTTY, early };
}

/** Takes what a terminal holds, unfinished lines included, which it gives up only while it does no line editing. */
async function takeEarly(terminal: ReadStream): Promise<string> {
  const keys: Buffer[] = [];
  const take = (data: Buffer): void => void keys.push(data);
  terminal.setRawMode(true);
  terminal.on('data', take);
  await setTimeout(earlyWait);
  terminal.off('data', take);
  terminal.pause();
  terminal.setRawMode(false);
  const text = Buffer.concat(keys).toString('utf8');
  if (text.includes(interrupt)) process.kill(process.pid, 'SIGINT');
  return text.replace(/[\p{Cc}\s]+/gu, ' ').trim();
}

/** Ctrl-C as a key. */
const interrupt = '\x03';

/** Lets go of the keyboard once no more lines are asked for; else the process would wait for more. */
async function* closing(reader: Interface): AsyncGenerator<string> {
  try {
    yield* reader;
  } finally {
    reader.close();
  }
}
