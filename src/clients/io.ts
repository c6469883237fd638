/** What a command may touch of the world around it; a test passes its own. */
export interface Io {
  /** Writes results. Nothing but results: a reader may pipe them into another program. */
  readonly stdout: (text: string) => void;
  /** Writes messages and progress. */
  readonly stderr: (text: string) => void;
  /** Width of the terminal in characters; 80 where there is none. */
  readonly columns: number;
  /** Whether stderr is a terminal, where a progress bar may be drawn. */
  readonly isTerminal: boolean;
  /** Working directory, against which paths on the command line are resolved. */
  readonly cwd: string;
  /** Aborted when the person asks to stop (Ctrl-C). */
  readonly signal: AbortSignal;
}

/** A call that cannot be carried out as written (exit code 2); the message says what was found and what was expected. */
export class WrongCall extends Error {
  override readonly name = 'WrongCall';
}

/**
 * The real terminal. The first Ctrl-C aborts `signal`, so that a command can leave its files whole; the second ends
 * the process.
 */
export function terminalIo(): Io {
  const controller = new AbortController();
  process.on('SIGINT', () => {
    if (controller.signal.aborted) process.exit(130);
    controller.abort();
  });
  // A reader that stops early (`upneck ... | head`) is not an error.
  process.stdout.on('error', (error: NodeJS.ErrnoException) => {
    if (error.code === 'EPIPE') process.exit(0);
    throw error;
  });
  return {
    stdout: (text) => void process.stdout.write(text),
    stderr: (text) => void process.stderr.write(text),
    columns: process.stderr.columns || process.stdout.columns || 80,
    isTerminal: process.stderr.isTTY,
    cwd: process.cwd(),
    signal: controller.signal,
  };
}
