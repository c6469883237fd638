import { CellError } from '../../kernel/cell-error.ts';
import type { Prompt, Values } from '../../kernel/protocol.ts';
import type { Outcome, Session, Show } from '../../kernel/session.ts';
import { Companion } from './companion.ts';
import type { FromSession, Source, ToSession } from './messages.ts';

export interface RemoteSessionOptions {
  readonly packageFolder: string;
  readonly node: string;
  readonly folder: string;
  readonly values: Values;
  readonly ask: (prompt: Prompt) => Promise<string | null>;
}

interface Running {
  readonly cell: Source;
  readonly resolve: (outcome: Outcome) => void;
}

/** The session of a notebook, which runs beside the editor in the notebook's own `upneck` package. */
export class RemoteSession implements Pick<Session, 'run' | 'interrupt' | 'dispose'> {
  /** Set when the process has ended by itself: this session runs nothing any more. */
  isLost = false;
  private readonly companion: Companion;
  private readonly running = new Map<number, Running>();
  /** Outputs may come after a cell has ended. */
  private readonly shows = new Map<number, Show>();
  private readonly interrupts = new Map<number, () => void>();
  private count = 0;

  constructor(private readonly options: RemoteSessionOptions) {
    const { packageFolder, node, folder, values } = options;
    this.companion = new Companion({
      role: 'session',
      packageFolder,
      node,
      receive: (message) => this.receive(message as FromSession),
      ended: (reason) => this.lose(reason),
    });
    this.send({ type: 'open', folder, values });
  }

  run(cell: Source, show: Show): Promise<Outcome> {
    const run = (this.count += 1);
    return new Promise((resolve) => {
      this.running.set(run, { cell, resolve });
      this.shows.set(run, show);
      this.send({ type: 'run', run, cell });
    });
  }

  interrupt(): Promise<void> {
    const request = (this.count += 1);
    return new Promise((resolve) => {
      this.interrupts.set(request, resolve);
      this.send({ type: 'interrupt', request });
    });
  }

  dispose(): Promise<void> {
    this.companion.dispose();
    this.end(() => ({ status: 'interrupted' }));
    return Promise.resolve();
  }

  private send(message: ToSession): void {
    this.companion.send(message);
  }

  private receive(message: FromSession): void {
    switch (message.type) {
      case 'ready':
        return;
      case 'show':
        this.shows.get(message.run)?.(message.bundle, message.shown);
        return;
      case 'ended': {
        const { run, outcome } = message;
        const { cell, resolve } = this.running.get(run)!;
        this.running.delete(run);
        if (outcome.status !== 'error') return resolve(outcome);
        return resolve({ status: 'error', error: new CellError(cell.id, outcome.failure) });
      }
      case 'interrupted':
        this.interrupts.get(message.request)?.();
        this.interrupts.delete(message.request);
        return;
      case 'ask':
        void this.options.ask(message.prompt).then((text) => {
          this.send({ type: 'answer', question: message.question, text });
        });
    }
  }

  private lose(reason: string): void {
    this.isLost = true;
    const message = `the session is gone: ${reason}`;
    const failure = { name: 'SessionEnded', message, at: null, sourceLine: '', stack: [] };
    this.end(({ id }) => ({ status: 'error', error: new CellError(id, failure) }));
  }

  private end(outcome: (cell: Source) => Outcome): void {
    for (const { cell, resolve } of this.running.values()) resolve(outcome(cell));
    this.running.clear();
    for (const done of this.interrupts.values()) done();
    this.interrupts.clear();
  }
}
