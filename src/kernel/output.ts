import type { MimeBundle } from '../notebook/cell.ts';
import type { Shown } from './protocol.ts';

/** Text a run may print, in characters, and the size of what it may show; the rest is dropped with a note. */
const mostText = 1_000_000;
const mostShown = 50_000_000;

/** Outputs of one run: counts, and stops when it is too much for any reader. */
export class Output {
  private printed = 0;
  private shown = 0;

  /** @param send hands an output at once to the control thread, which sends it on while the cell computes */
  constructor(private readonly send: (bundle: MimeBundle, shown: Shown) => void) {}

  print(kind: 'stdout' | 'stderr', text: string): void {
    if (text === '' || this.printed > mostText) return;
    const rest = mostText - this.printed;
    this.printed += text.length;
    if (rest > 0) this.send({ 'text/plain': text.slice(0, rest) }, { kind });
    if (this.printed <= mostText) return;
    const note = `\n[Printed more than ${mostText} characters; the rest is not shown.]\n`;
    this.send({ 'text/plain': note }, { kind: 'stderr' });
  }

  show(bundle: MimeBundle, shown: Shown): void {
    if (this.shown > mostShown) return;
    // JSON here, where a value that has none fails at the author's line.
    this.shown += JSON.stringify(bundle).length;
    if (this.shown <= mostShown) return this.send(bundle, shown);
    const note = `[Showed more than ${mostShown / 1_000_000} MB; the rest is not shown.]\n`;
    this.send({ 'text/plain': note }, { kind: 'stderr' });
  }
}
