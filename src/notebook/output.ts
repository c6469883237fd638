import type { CellPlace, MimeBundle } from './cell.ts';

/** What a cell has shown, in order. `metadata` is a file's, by MIME type; kept as it is. */
export type Output =
  | { readonly type: 'display'; readonly bundle: MimeBundle; readonly id?: string; readonly metadata?: MimeBundle }
  | { readonly type: 'value'; readonly bundle: MimeBundle; readonly metadata?: MimeBundle }
  | { readonly type: 'stream'; readonly name: 'stdout' | 'stderr'; readonly text: string }
  | { readonly type: 'error'; readonly error: CellFailure };

/** What is known of a failure in a cell, as plain data. */
export interface CellFailure {
  /** Class of the author's error, such as TypeError. */
  readonly name: string;
  readonly message: string;
  /** Null when the failure belongs to the cell as a whole, such as memory exhausted. */
  readonly at: CellPlace | null;
  /** The author's line at `at`, or empty. */
  readonly sourceLine: string;
  /** Frames of the stack, innermost first, in places of the author's sources; may be empty. */
  readonly stack: readonly string[];
}

/** A failure as lines of text for those who show nothing else: what, the line it is in, and how it got there. */
export function traceback({ name, message, at, sourceLine, stack }: CellFailure): string[] {
  if (at === null && stack.length > 0) return [...stack];
  const line =
    sourceLine === ''
      ? []
      : ['', `    ${sourceLine}`, `    ${sourceLine.slice(0, at!.column - 1).replace(/\S/g, ' ')}^`];
  return [`${name}: ${message}`, ...line, ...stack.map((frame) => `  at ${frame}`)];
}
