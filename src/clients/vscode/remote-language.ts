import { Companion } from './companion.ts';
import type { Answers, FromLanguage, Question } from './messages.ts';

interface Waiting {
  readonly resolve: (answer: Answers[keyof Answers]) => void;
  readonly reject: (error: Error) => void;
}

/** TypeScript's language service, which runs beside the editor in an `upneck` package. */
export class RemoteLanguage {
  isLost = false;
  private readonly companion: Companion;
  private readonly waiting = new Map<number, Waiting>();
  private count = 0;

  constructor(packageFolder: string, node: string) {
    this.companion = new Companion({
      role: 'language',
      packageFolder,
      node,
      receive: (message) => this.receive(message as FromLanguage),
      ended: (reason) => this.lose(reason),
    });
  }

  /** @throws {Error} when the process is gone or the question fails */
  ask<K extends keyof Answers>(question: Extract<Question, { ask: K }>): Promise<Answers[K]> {
    if (this.isLost) return Promise.reject(new Error('the language service is gone'));
    const request = (this.count += 1);
    return new Promise((resolve, reject) => {
      this.waiting.set(request, { resolve: (answer) => resolve(answer as Answers[K]), reject });
      this.companion.send({ request, question });
    });
  }

  dispose(): void {
    this.companion.dispose();
    this.lose('it was ended');
  }

  private receive(message: FromLanguage): void {
    if (message.type === 'ready') return;
    const waiting = this.waiting.get(message.request)!;
    this.waiting.delete(message.request);
    if (message.type === 'answer') waiting.resolve(message.answer);
    else waiting.reject(new Error(message.message));
  }

  private lose(reason: string): void {
    this.isLost = true;
    for (const { reject } of this.waiting.values()) reject(new Error(`the language service is gone: ${reason}`));
    this.waiting.clear();
  }
}
