import type { MimeBundle } from '../notebook/cell.ts';
import { mime, mimeBundle, mimeSymbol } from './mime.ts';
import { progressType, type Progress, type Prompt, type Shown } from './protocol.ts';

/** What a cell gets back from display: the place of the output, to put something else there. */
interface Display {
  readonly id: string;
  update(value: unknown): void;
}

type Show = (bundle: MimeBundle, shown: Shown) => void;

/** Milliseconds between two reports of progress; the first and the last are always sent. */
const progressPause = 50;

/**
 * The names every cell has without importing them; declarations.ts tells the compiler of them.
 *
 * @param show sends an output of the run it is called from
 * @param put  puts a question to the person; null when nobody can answer
 */
export function cellGlobals(show: Show, put: (prompt: Prompt) => Promise<string | null>): Record<string, unknown> {
  let displays = 0;
  function display(value: unknown, { id }: { id?: string } = {}): Display {
    const place = id ?? `display-${(displays += 1)}`;
    const put = (shown: unknown, update: boolean): void => {
      const bundle = mimeBundle(shown) ?? { 'text/plain': 'undefined' };
      show(bundle, { kind: 'display', id: place, update });
    };
    put(value, false);
    const handle = { id: place, update: (next: unknown) => put(next, true), [mimeSymbol]: () => ({}) };
    return handle;
  }
  display.clear = ({ wait = false }: { wait?: boolean } = {}): void => show({}, { kind: 'clear', waits: wait });

  const lastSent = new Map<string, number>();
  function progress(done: number, total: number, label = 'Progress'): void {
    const now = performance.now();
    if (done > 0 && done < total && now - (lastSent.get(label) ?? 0) < progressPause) return;
    lastSent.set(label, now);
    const content: Progress = { done, total, label };
    const percent = total > 0 ? Math.round((100 * done) / total) : 100;
    show(
      { [progressType]: content, 'text/plain': `${label}: ${percent} %` },
      { kind: 'progress', id: `progress-${label}` },
    );
  }
  async function ask(text: string, { secret = false }: { secret?: boolean } = {}): Promise<string> {
    const answer = await put({ text: String(text), isSecret: secret });
    if (answer === null) throw new Error(`Nobody is there to answer "${text}"; give the value as a parameter`);
    return answer;
  }
  return { display, progress, ask, mime };
}
