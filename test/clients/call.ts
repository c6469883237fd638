import { main } from '../../src/clients/cli.ts';

/** What a call of the command line ended with, and what it printed. */
export interface Call {
  readonly code: number;
  readonly stdout: string;
  readonly stderr: string;
}

/** Calls `upneck` in a folder, as from a pipe 80 columns wide. */
export async function upneck(cwd: string, ...args: string[]): Promise<Call> {
  let [stdout, stderr] = ['', ''];
  const code = await main(args, {
    stdout: (text) => (stdout += text),
    stderr: (text) => (stderr += text),
    columns: 80,
    isTerminal: false,
    cwd,
    signal: new AbortController().signal,
  });
  return { code, stdout, stderr };
}
