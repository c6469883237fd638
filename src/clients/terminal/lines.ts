import { createInterface, type Interface } from 'node:readline';

/** Where lines are typed. */
export interface Lines {
  readonly lines: AsyncIterable<string>;
  /** Whether what is typed shows on the screen by itself. */
  readonly isTerminal: boolean;
}

/** Lines from the keyboard or a pipe. No cursor is moved: the terminal's own line editing is all that is used. */
export function typedLines(signal: AbortSignal): Lines {
  const reader = createInterface({ input: process.stdin, terminal: false, crlfDelay: Infinity });
  signal.addEventListener('abort', () => {
    reader.close();
  });
  return { lines: closing(reader), isTerminal: process.stdin.isTTY };
}

/** Lets go of the keyboard once no more lines are asked for; else the process would wait for more. */
async function* closing(reader: Interface): AsyncGenerator<string> {
  try {
    yield* reader;
  } finally {
    reader.close();
  }
}
