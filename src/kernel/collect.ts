import type { MimeBundle } from '../notebook/cell.ts';
import type { CellFailure, Output } from '../notebook/output.ts';
import type { Shown } from './protocol.ts';

/** Keeps the outputs of a notebook's cells as they come, for a page or a file. */
export class Outputs {
  /** Outputs by cell id, in the order of display. */
  readonly byCell = new Map<string, Output[]>();
  /** Cells whose outputs go when they show something else. */
  private readonly waiting = new Set<string>();

  /** Forgets what the cell has shown before, and takes what a session shows for it from now on. */
  receiver(cell: string): (bundle: MimeBundle, shown: Shown) => void {
    this.byCell.set(cell, []);
    this.waiting.delete(cell);
    return (bundle, shown) => this.add(cell, bundle, shown);
  }

  value(cell: string, bundle: MimeBundle | null): void {
    if (bundle) this.take(cell).push({ type: 'value', bundle });
  }

  error(cell: string, error: CellFailure): void {
    this.take(cell).push({ type: 'error', error });
  }

  private of(cell: string): Output[] {
    let outputs = this.byCell.get(cell);
    if (!outputs) this.byCell.set(cell, (outputs = []));
    return outputs;
  }

  /** The cell's outputs, to put another there. */
  private take(cell: string): Output[] {
    const outputs = this.of(cell);
    if (this.waiting.delete(cell)) outputs.length = 0;
    return outputs;
  }

  private add(cell: string, bundle: MimeBundle, { kind, id, update, waits }: Shown): void {
    if (kind === 'progress') return;
    if (kind === 'clear' && waits === true) {
      this.waiting.add(cell);
      return;
    }
    const outputs = this.take(cell);
    if (kind === 'clear') {
      outputs.length = 0;
    } else if (kind === 'display') {
      const output: Output = { type: 'display', bundle, ...(id !== undefined && { id }) };
      const isReplaced = id !== undefined && this.replace(id, output);
      if (update !== true && (!isReplaced || !outputs.includes(output))) outputs.push(output);
    } else {
      const text = String(bundle['text/plain']);
      const last = outputs.at(-1);
      if (last?.type === 'stream' && last.name === kind) outputs.splice(-1, 1, { ...last, text: last.text + text });
      else outputs.push({ type: 'stream', name: kind, text });
    }
  }

  /** Replaces every output of an id, in any cell. */
  private replace(id: string, output: Output): boolean {
    let found = false;
    for (const outputs of this.byCell.values())
      outputs.forEach((old, index) => {
        if (old.type !== 'display' || old.id !== id) return;
        outputs[index] = output;
        found = true;
      });
    return found;
  }
}
