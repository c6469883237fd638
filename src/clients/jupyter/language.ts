import { Worker } from 'node:worker_threads';
import { bundle } from '../../kernel/bundle.ts';
import type { Content } from './wire.ts';

/** Cells that completion and inspection see. */
const seenCells = 300;

interface SeenCell {
  readonly id: string;
  readonly source: string;
}

/** A question to the thread that holds the compiler, see language-thread.ts. */
export interface Asked {
  readonly number: number;
  readonly cells: readonly SeenCell[];
  readonly question: {
    readonly type: 'complete' | 'inspect' | 'page';
    readonly code: string;
    /** In Unicode code points. */
    readonly cursor: number;
  };
}

interface Waiting {
  readonly resolve: (answer: Content | null) => void;
  readonly reject: (error: Error) => void;
}

/** What the compiler knows of the cells executed so far. Its thread is started when somebody first asks. */
export class Language {
  private readonly cells = new Map<string, SeenCell>();
  private readonly waiting = new Map<number, Waiting>();
  private thread: Worker | null = null;
  private questions = 0;

  constructor(private readonly folder: string) {}

  remember(id: string, source: string): void {
    this.cells.delete(id);
    this.cells.set(id, { id, source });
    const [oldest] = this.cells.keys();
    if (this.cells.size > seenCells) this.cells.delete(oldest!);
  }

  /** Answers a complete_request. */
  complete(code: string, cursor: number): Promise<Content | null> {
    return this.ask({ type: 'complete', code, cursor });
  }

  /** Answers an inspect_request. */
  inspect(code: string, cursor: number): Promise<Content | null> {
    return this.ask({ type: 'inspect', code, cursor });
  }

  /** What a cell that is only a name with a question mark asks for, or null when nothing is known of the name. */
  page(name: string): Promise<Content | null> {
    return this.ask({ type: 'page', code: name, cursor: [...name].length - 1 });
  }

  dispose(): void {
    void this.thread?.terminate();
  }

  private ask(question: Asked['question']): Promise<Content | null> {
    const thread = (this.thread ??= this.start());
    const number = (this.questions += 1);
    return new Promise((resolve, reject) => {
      this.waiting.set(number, { resolve, reject });
      thread.postMessage({ number, cells: [...this.cells.values()], question } satisfies Asked);
    });
  }

  private start(): Worker {
    const entry = new URL('./language-thread.ts', import.meta.url);
    const url = new URL('../../kernel/intelligence.ts', entry);
    const file = bundle({ entry, folder: new URL('../../', entry), url });
    const execArgv = file === null ? ['--import', import.meta.resolve('tsx')] : [];
    const thread = new Worker(file ?? entry, { workerData: { folder: this.folder }, execArgv });
    thread.on('message', ({ number, answer }: { number: number; answer: Content | null }) => {
      this.waiting.get(number)?.resolve(answer);
      this.waiting.delete(number);
    });
    thread.on('error', (error) => {
      this.thread = null; // the next question starts another
      for (const { reject } of this.waiting.values()) reject(error);
      this.waiting.clear();
    });
    return thread;
  }
}

/**
 * The name a cell asks about when it is nothing but a name and a question mark, such as `fitTrend?`; else null. No
 * TypeScript program has this form.
 */
export function askedName(code: string): string | null {
  return /^\s*([\p{ID_Start}$_](?:\.?[\p{ID_Continue}$])*)\s*\?\s*$/u.exec(code)?.[1] ?? null;
}
