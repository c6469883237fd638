import { spawn, type ChildProcess } from 'node:child_process';
import { mkdirSync } from 'node:fs';
import type { Socket } from 'node:net';
import { fileURLToPath } from 'node:url';
import type { Cell, MimeBundle } from '../notebook/cell.ts';
import type { CellFailure } from '../notebook/output.ts';
import { bundle } from './bundle.ts';
import { CellError } from './cell-error.ts';
import type { FromProcess, Prompt, Shown, ToProcess, Values } from './protocol.ts';

export type Outcome =
  | { readonly status: 'ok'; readonly value: MimeBundle | null }
  | { readonly status: 'error'; readonly error: CellError }
  | { readonly status: 'interrupted' };

/** Receives a cell's outputs as they come; `shown` tells what each is for. */
export type Show = (bundle: MimeBundle, shown: Shown) => void;

/** One running notebook: the only holder of the cells' variables. */
export interface Session {
  /** Runs one cell; later cells see its declarations. Calls queue: cells run one at a time, in order. */
  run(cell: Pick<Cell, 'id' | 'source'>, show: Show): Promise<Outcome>;
  /** Stops the running cell, even in an endless loop; declarations of finished cells stay. */
  interrupt(): Promise<void>;
  /** Starts again with no variables; a running cell ends as interrupted. */
  restart(): Promise<void>;
  dispose(): Promise<void>;
}

export interface SessionOptions {
  /** Absolute path of the notebook's folder: relative imports and files are looked up from there. */
  readonly folder: string;
  /** Names every cell sees, with values that JSON can carry. A folder `outputFolder` is made when a cell names it. */
  readonly values?: Values;
  /** Size of the heap in megabytes at which the session gives up; Node's own limit by default. */
  readonly memoryMb?: number;
  /** Asks the person; null when nobody can answer. Without it every question fails at the line that asks. */
  readonly ask?: (prompt: Prompt) => Promise<string | null>;
}

interface Pending {
  readonly cell: Pick<Cell, 'id' | 'source'>;
  readonly show: Show;
  readonly resolve: (outcome: Outcome) => void;
}

/** How long an interrupted session may take to answer before its process is ended, in milliseconds. */
const patience = 5000;

/** What Node runs as a session's process: one file where that can be kept, for a quick start, else the sources. */
function program(): string[] {
  const entry = new URL('./process.ts', import.meta.url);
  const file = bundle({ entry, folder: new URL('./', entry), url: entry });
  return file === null ? ['--import', import.meta.resolve('tsx'), fileURLToPath(entry)] : [file];
}

/** Starts a session in a process of its own. It starts while the caller goes on; the first cell waits for it. */
export function startSession(options: SessionOptions): Session {
  return new ProcessSession(options);
}

class ProcessSession implements Session {
  private child: ChildProcess | null = null;
  private readonly queue: Pending[] = [];
  private current: { readonly run: number; readonly pending: Pending; isInterrupted: boolean } | null = null;
  /** Outputs may come after a cell has ended, from its timers. */
  private readonly shows = new Map<number, Show>();
  private runs = 0;
  private isReady = false;
  private isDisposed = false;
  /** Set when the process ended by itself: the next cell is told that earlier variables are gone. */
  private lost = false;
  private errorText = '';

  constructor(private readonly options: SessionOptions) {
    this.start();
  }

  run(cell: Pick<Cell, 'id' | 'source'>, show: Show): Promise<Outcome> {
    if (this.isDisposed) return Promise.reject(new Error('This session has been disposed of; start another'));
    return new Promise((resolve) => {
      this.queue.push({ cell, show, resolve });
      this.next();
    });
  }

  interrupt(): Promise<void> {
    const { current } = this;
    if (!current) {
      // The first cell waits for the process to start.
      this.queue.shift()?.resolve({ status: 'interrupted' });
      return Promise.resolve();
    }
    current.isInterrupted = true;
    this.send({ type: 'interrupt', run: current.run });
    return new Promise((done) => {
      const timer = setTimeout(() => this.child?.kill('SIGKILL'), patience);
      this.whenIdle(current.run, () => {
        clearTimeout(timer);
        done();
      });
    });
  }

  async restart(): Promise<void> {
    await this.stop();
    this.lost = false;
    if (!this.isDisposed) this.start();
  }

  async dispose(): Promise<void> {
    this.isDisposed = true;
    for (const { resolve } of this.queue.splice(0)) resolve({ status: 'interrupted' });
    await this.stop();
  }

  private readonly idle: { readonly run: number; readonly then: () => void }[] = [];

  private whenIdle(run: number, then: () => void): void {
    this.idle.push({ run, then });
  }

  private start(): void {
    const { folder, values = {}, memoryMb } = this.options;
    const heap = memoryMb === undefined ? [] : [`--max-old-space-size=${memoryMb}`];
    // A group of its own, so that Ctrl-C in a terminal reaches the client alone, which interrupts the cell.
    const child = spawn(process.execPath, [...heap, ...program()], {
      cwd: folder,
      detached: true,
      stdio: ['ignore', 'pipe', 'pipe', 'pipe'],
    });
    this.child = child;
    this.isReady = false;
    this.errorText = '';
    // What is written past JavaScript: by child processes of cells, and by Node itself as it dies.
    child.stdout!.on('data', (chunk: Buffer) => this.stray('stdout', chunk));
    child.stderr!.on('data', (chunk: Buffer) => {
      this.errorText = (this.errorText + chunk.toString()).slice(-20_000);
    });
    const channel = child.stdio[3] as Socket;
    let text = '';
    channel.setEncoding('utf8');
    channel.on('data', (chunk: string) => {
      const lines = (text + chunk).split('\n');
      text = lines.pop()!;
      for (const line of lines) if (this.child === child) this.receive(JSON.parse(line) as FromProcess);
    });
    channel.on('error', () => undefined);
    child.on('error', (error) => (this.errorText += error.message));
    child.on('close', (code, signal) => {
      if (this.child === child) this.ended(code, signal);
    });
    this.send({ type: 'start', folder, values });
  }

  private async stop(): Promise<void> {
    const { child } = this;
    if (!child) return;
    this.child = null;
    this.finish({ status: 'interrupted' });
    if (child.exitCode !== null || child.signalCode !== null) return;
    const closed = new Promise((resolve) => child.once('close', resolve));
    child.kill('SIGKILL');
    await closed;
  }

  private send(message: ToProcess): void {
    const channel = this.child?.stdio[3] as Socket | undefined;
    channel?.write(`${JSON.stringify(message)}\n`);
  }

  private next(): void {
    if (this.current || this.queue.length === 0) return;
    if (!this.child) this.start();
    if (!this.isReady) return;
    const pending = this.queue.shift()!;
    if (this.lost) {
      const note = 'The session was started again: what earlier cells declared is gone. Run them again.\n';
      pending.show({ 'text/plain': note }, { kind: 'stderr' });
      this.lost = false;
    }
    this.makeFolder(pending.cell.source);
    const run = (this.runs += 1);
    this.current = { run, pending, isInterrupted: false };
    this.shows.set(run, pending.show);
    this.send({ type: 'run', run, cell: pending.cell.id, source: pending.cell.source });
  }

  /** A folder for files is made for cells that use it, and not left empty by those that do not. */
  private makeFolder(source: string): void {
    const { outputFolder } = this.options.values ?? {};
    if (typeof outputFolder !== 'string' || !/\boutputFolder\b/.test(source)) return;
    try {
      mkdirSync(outputFolder, { recursive: true });
    } catch {
      // Writing to it will say why it cannot be.
    }
  }

  private receive(message: FromProcess): void {
    switch (message.type) {
      case 'ready':
        this.isReady = true;
        return this.next();
      case 'show':
        this.shows.get(message.run)?.(message.bundle, message.shown);
        return;
      case 'ended': {
        const { current } = this;
        if (current?.run !== message.run) return;
        const { outcome } = message;
        if (outcome.status !== 'error') return this.finish(outcome);
        return this.finish({ status: 'error', error: new CellError(current.pending.cell.id, outcome.failure) });
      }
      case 'ask':
        void this.ask(message.question, message.prompt);
        return;
      case 'interrupted':
        return;
    }
  }

  private async ask(question: number, prompt: Prompt): Promise<void> {
    const { child } = this;
    const text = (await this.options.ask?.(prompt)) ?? null;
    if (this.child === child) this.send({ type: 'answer', question, text });
  }

  private stray(kind: 'stdout', chunk: Buffer): void {
    this.current?.pending.show({ 'text/plain': chunk.toString() }, { kind });
  }

  /** The process has ended by itself: an error on the running cell; the next cell starts another. */
  private ended(code: number | null, signal: NodeJS.Signals | null): void {
    this.child = null;
    const wasReady = this.isReady;
    this.isReady = false;
    const pending = this.current ? this.current.pending : this.queue[0];
    this.lost = true;
    if (!pending) return;
    if (!wasReady && !this.current) this.queue.shift();
    const failure: CellFailure = {
      name: 'SessionEnded',
      message: this.why(code, signal, wasReady),
      at: null,
      sourceLine: '',
      stack: [],
    };
    const outcome: Outcome = { status: 'error', error: new CellError(pending.cell.id, failure) };
    if (this.current) this.finish(outcome);
    else if (!wasReady) {
      pending.resolve(outcome);
      this.next();
    }
  }

  private why(code: number | null, signal: NodeJS.Signals | null, wasReady: boolean): string {
    if (this.current?.isInterrupted)
      return 'the cell did not stop when interrupted, so its session was ended; what earlier cells declared is gone';
    if (/heap out of memory|Allocation failed|invalid array length/i.test(this.errorText))
      return 'the cell used up the memory, which ended its session; what earlier cells declared is gone';
    const how = signal ? `by ${signal}` : `with code ${code}`;
    if (!wasReady) return `the session could not start: its process ended ${how}\n${this.errorText.trim()}`;
    return `the session's process ended ${how}; what earlier cells declared is gone`;
  }

  private finish(outcome: Outcome): void {
    const { current } = this;
    this.current = null;
    current?.pending.resolve(outcome);
    for (const waiting of this.idle.splice(0)) waiting.then();
    if (!this.isDisposed) this.next();
  }
}
