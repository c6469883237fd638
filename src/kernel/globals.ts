import type { MimeBundle } from '../notebook/cell.ts';
import { mime, mimeBundle, mimeSymbol } from './mime.ts';
import { progressType, type Progress, type Shown } from './protocol.ts';

/** What a cell gets back from display: the place of the output, to put something else there. */
interface Display {
  readonly id: string;
  update(value: unknown): void;
}

type Show = (bundle: MimeBundle, shown: Shown) => void;

/** Milliseconds between two reports of progress; the first and the last are always sent. */
const progressPause = 50;

/**
 * The names every cell has without importing them; see globals.d.ts in text, in declarations.ts.
 *
 * @param show sends an output of the run it is called from
 */
export function cellGlobals(show: Show): Record<string, unknown> {
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
  display.clear = (): void => show({}, { kind: 'clear' });

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
  return { display, progress, mime };
}
