import type { CellPlace } from '../notebook/cell.ts';
import type { CellFailure } from '../notebook/output.ts';

/** A cell has failed: where, as data and in the message; `cause` is the author's own error. */
export class CellError extends Error {
  override readonly name = 'CellError';
  readonly at: CellPlace;
  readonly failure: CellFailure;

  constructor(cell: string, failure: CellFailure) {
    const at = failure.at ?? { cell, line: 1, column: 1 };
    const place = failure.at === null ? `cell "${cell}"` : `cell "${at.cell}", line ${at.line}`;
    const cause = new Error(failure.message);
    cause.name = failure.name;
    cause.stack = [`${failure.name}: ${failure.message}`, ...failure.stack.map((frame) => `    at ${frame}`)].join(
      '\n',
    );
    super(`${place}: ${failure.name}: ${failure.message}`, { cause });
    this.at = at;
    this.failure = failure;
  }
}
