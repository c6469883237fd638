import type { MimeBundle } from '../notebook/cell.ts';
import type { Shown } from './protocol.ts';

/** Text a run may print, in characters, and the size of what it may show; the rest is dropped with a note. */
const mostText = 1_000_000;
const mostShown = 50_000_000;
/** Printed text waits for more until the cell pauses, or this long, in milliseconds. */
const pause = 40;

/** Outputs of one run: gathers printed text, counts, and stops when it is too much for any reader. */
export class Output {
  private waiting = '';
  private waitingKind: 'stdout' | 'stderr' = 'stdout';
  private lastFlush = 0;
  private printed = 0;
  private shown = 0;
  private isScheduled = false;

  constructor(private readonly send: (bundle: MimeBundle, shown: Shown) => void) {}

  print(kind: 'stdout' | 'stderr', text: string): void {
    if (this.printed > mostText) return;
    if (kind !== this.waitingKind) this.flush();
    this.waitingKind = kind;
    this.waiting += text.slice(0, mostText - this.printed);
    this.printed += text.length;
    if (this.printed > mostText) {
      this.flush();
      const note = `\n[Printed more than ${mostText} characters; the rest is not shown.]\n`;
      this.send({ 'text/plain': note }, { kind: 'stderr' });
    } else if (this.waiting.length > 8192 || performance.now() - this.lastFlush > pause) {
      this.flush();
    } else if (!this.isScheduled) {
      this.isScheduled = true;
      queueMicrotask(() => {
        this.isScheduled = false;
        this.flush();
      });
    }
  }

  show(bundle: MimeBundle, shown: Shown): void {
    if (this.shown > mostShown) return;
    this.flush();
    // JSON here, where a value that has none fails at the author's line.
    this.shown += JSON.stringify(bundle).length;
    if (this.shown <= mostShown) return this.send(bundle, shown);
    const note = `[Showed more than ${mostShown / 1_000_000} MB; the rest is not shown.]\n`;
    this.send({ 'text/plain': note }, { kind: 'stderr' });
  }

  flush(): void {
    this.lastFlush = performance.now();
    if (this.waiting === '') return;
    const text = this.waiting;
    this.waiting = '';
    this.send({ 'text/plain': text }, { kind: this.waitingKind });
  }
}
