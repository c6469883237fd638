import { parse, type Program } from 'acorn';

interface Position {
  readonly line: number;
  readonly column: number;
}

/** A rule of the language the cell breaks; the position is in the JavaScript that went in. */
export class RewriteError extends SyntaxError {
  readonly place: Position;

  constructor(message: string, place: Position) {
    super(message);
    this.place = place;
  }

  /** @param offset where in the source the problem stands */
  static at(offset: number, source: string, message: string): RewriteError {
    const before = source.slice(0, offset).split('\n');
    return new RewriteError(message, { line: before.length, column: before.at(-1)!.length });
  }
}

/** @throws {RewriteError} when the source is not JavaScript */
export function parseCell(source: string): Program {
  try {
    return parse(source, { ecmaVersion: 'latest', sourceType: 'module', allowAwaitOutsideFunction: true });
  } catch (error) {
    if (!(error instanceof SyntaxError) || !('loc' in error)) throw error;
    throw new RewriteError(error.message.replace(/ \(\d+:\d+\)$/, ''), error.loc as Position);
  }
}
