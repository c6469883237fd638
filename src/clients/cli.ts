import { terminalIo, WrongCall, type Io } from './io.ts';

/** One command: its help text, and what it does. Heavy imports belong inside `run`, so that help stays fast. */
export interface Command {
  readonly usage: string;
  /** @returns exit code: 0 done, 1 the work failed, 2 the call was wrong */
  run(args: string[], io: Io): Promise<number>;
}

/** Command words and what each does; the file of the same name in commands/ holds the command. */
const commands: Record<string, string> = {
  import: 'read and check logs of readings',
  standard: 'from logs to a house standard',
  log: 'log readings at the bench, one by one',
  worksheet: 'from readings just taken to what to do at the bench',
  control: 'see whether the bench follows a standard',
  compare: 'set a standard beside the one before',
  usage: 'count where each string is played',
  run: 'run a notebook to one HTML page',
  check: 'check the types in notebooks',
  convert: 'convert a notebook to .ipynb, or back',
  kernel: 'let Jupyter clients run notebooks',
};

const width = Math.max(...Object.keys(commands).map((name) => name.length));

const usage = `Usage: upneck COMMAND [ARGUMENT]...

From logs of intonation readings to a house standard for the 12th and the
17th fret.

Commands:
${Object.entries(commands)
  .map(([name, summary]) => `  ${name.padEnd(width)}  ${summary}`)
  .join('\n')}

"upneck COMMAND --help" tells more about one command.
Exit codes: 0 done, 1 the work failed, 2 the call was wrong.
`;

/**
 * Carries out one call of the command line.
 *
 * @param args the words after `upneck`
 * @returns exit code: 0 done, 1 the work failed, 2 the call was wrong; every failure has a message on stderr
 */
export async function main(args: string[], io: Io = terminalIo()): Promise<number> {
  const [word, ...rest] = args;
  if (word === '--help' || word === '-h' || word === 'help') {
    io.stdout(usage);
    return 0;
  }
  if (word === undefined) {
    io.stderr(usage);
    return 2;
  }
  if (!Object.hasOwn(commands, word)) {
    const kind = word.startsWith('-') ? 'option' : 'command';
    io.stderr(`upneck: there is no ${kind} "${word}"; expected one of: ${Object.keys(commands).join(', ')}\n`);
    return 2;
  }
  const command = (await import(`./commands/${word}.ts`)) as Command;
  const options = rest.includes('--') ? rest.slice(0, rest.indexOf('--')) : rest;
  if (options.includes('--help') || options.includes('-h')) {
    io.stdout(command.usage);
    return 0;
  }
  try {
    return await command.run(rest, io);
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    io.stderr(`upneck ${word}: ${message}\n`);
    if (!isWrongCall(error)) return 1;
    io.stderr(`"upneck ${word} --help" shows how to call it.\n`);
    return 2;
  }
}

/** Our own refusals, and those of node:util parseArgs (an unknown option, an option without its value). */
function isWrongCall(error: unknown): boolean {
  if (error instanceof WrongCall) return true;
  return error instanceof Error && 'code' in error && String(error.code).startsWith('ERR_PARSE_ARGS');
}
