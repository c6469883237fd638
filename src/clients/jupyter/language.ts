import type { Hover, Intelligence } from '../../kernel/intelligence.ts';
import type { Content } from './wire.ts';

/** Cells that completion and inspection see. */
const seenCells = 300;

/** What the compiler knows of the cells executed so far; it is loaded when somebody first asks. */
export class Language {
  private readonly cells = new Map<string, { readonly id: string; readonly source: string }>();
  private intelligence: Intelligence | null = null;

  constructor(private readonly folder: string) {}

  remember(id: string, source: string): void {
    this.cells.delete(id);
    this.cells.set(id, { id, source });
    const [oldest] = this.cells.keys();
    if (this.cells.size > seenCells) this.cells.delete(oldest!);
  }

  /** Answers a complete_request. */
  async complete(code: string, cursor: number): Promise<Content> {
    const offset = toOffset(code, cursor);
    const { items, start, end } = (await this.think(code)).completions('new', offset);
    const typed = code.slice(start, offset);
    const fitting = items.filter(({ name }) => name.startsWith(typed));
    const range = { cursor_start: toCursor(code, start), cursor_end: toCursor(code, end) };
    const types = fitting.map(({ name, kind }) => {
      return { start: range.cursor_start, end: range.cursor_end, text: name, type: kind };
    });
    const matches = fitting.map(({ name }) => name);
    return { status: 'ok', matches, ...range, metadata: { _jupyter_types_experimental: types } };
  }

  /** Answers an inspect_request. */
  async inspect(code: string, cursor: number): Promise<Content> {
    const intelligence = await this.think(code);
    const offset = toOffset(code, cursor);
    // A cursor behind a name means the name, one among arguments the function.
    const hover =
      intelligence.hover('new', offset) ??
      intelligence.hover('new', Math.max(0, offset - 1)) ??
      intelligence.callee('new', offset);
    return { status: 'ok', found: hover !== null, data: hover ? hoverBundle(hover) : {}, metadata: {} };
  }

  /** What a cell that is only a name with a question mark asks for, or null when nothing is known of the name. */
  async page(name: string): Promise<Content | null> {
    const hover = (await this.think(name)).hover('new', name.length - 1);
    return hover && hoverBundle(hover);
  }

  dispose(): void {
    this.intelligence?.dispose();
  }

  /** The compiler's view of all cells so far, and of the one being written, "new". */
  private async think(code: string): Promise<Intelligence> {
    if (!this.intelligence) {
      const { Intelligence } = await import('../../kernel/intelligence.ts');
      this.intelligence = new Intelligence({ folder: this.folder });
    }
    this.intelligence.update([...this.cells.values(), { id: 'new', source: code }]);
    return this.intelligence;
  }
}

/**
 * The name a cell asks about when it is nothing but a name and a question mark, such as `fitTrend?`; else null. No
 * TypeScript program has this form.
 */
export function askedName(code: string): string | null {
  return /^\s*([\p{ID_Start}$_](?:\.?[\p{ID_Continue}$])*)\s*\?\s*$/u.exec(code)?.[1] ?? null;
}

function hoverBundle({ signature, documentation }: Hover): Content {
  const parts = (...texts: string[]): string => texts.filter((text) => text !== '').join('\n\n');
  return {
    'text/plain': parts(signature, documentation),
    'text/markdown': parts('```ts\n' + signature + '\n```', documentation),
  };
}

/** The protocol counts Unicode code points, JavaScript UTF-16 units. */
function toOffset(code: string, cursor: number): number {
  return [...code].slice(0, cursor).join('').length;
}

function toCursor(code: string, offset: number): number {
  return [...code.slice(0, offset)].length;
}
