import { mkdirSync, mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { onTestFinished } from 'vitest';
import { Outputs } from '../../src/kernel/collect.ts';
import { startSession, type Outcome, type Session, type SessionOptions } from '../../src/kernel/session.ts';
import type { Output } from '../../src/notebook/output.ts';

export interface OpenSession {
  readonly session: Session;
  readonly folder: string;
  readonly outputs: Outputs;
  /** Runs source as the cell "c", or as the cell of the given id. */
  readonly run: (source: string, id?: string) => Promise<Outcome>;
  /** The text form of what a cell's last expression shows; throws when the cell fails. */
  readonly value: (source: string) => Promise<unknown>;
  /** Outputs of the cell "c" since it last started. */
  readonly shown: () => readonly Output[];
}

/** A session in a folder of its own with the given files, ended with the test. */
export function openSession(files: Record<string, string> = {}, options: Partial<SessionOptions> = {}): OpenSession {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-session-'));
  for (const [name, content] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), content);
  }
  const session = startSession({ folder, ...options });
  onTestFinished(() => session.dispose());
  const outputs = new Outputs();
  const run = (source: string, id = 'c'): Promise<Outcome> => session.run({ id, source }, outputs.receiver(id));
  return {
    session,
    folder,
    outputs,
    run,
    value: async (source) => {
      const outcome = await run(source);
      if (outcome.status === 'error') throw outcome.error;
      return outcome.status === 'ok' ? outcome.value?.['text/plain'] : outcome.status;
    },
    shown: () => outputs.byCell.get('c') ?? [],
  };
}
