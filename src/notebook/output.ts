import type { CellPlace, MimeBundle } from './cell.ts';

/** What a cell has shown, in order. */
export type Output =
  | { readonly type: 'display'; readonly bundle: MimeBundle; readonly id?: string }
  | { readonly type: 'value'; readonly bundle: MimeBundle }
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
