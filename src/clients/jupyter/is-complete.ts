import { compile, CompileError } from '../../kernel/compile.ts';
import { askedName } from './language.ts';
import type { Content } from './wire.ts';

/** What a console should do on Enter: run the cell, or let the person go on typing. */
export async function isComplete(code: string): Promise<Content> {
  if (askedName(code) !== null) return { status: 'complete' };
  try {
    await compile(code, () => null);
    return { status: 'complete' };
  } catch (error) {
    if (!(error instanceof CompileError)) throw error;
    // The compiler calls an open template a string; with an odd number of backticks it is one that may go on.
    const isTemplate = error.message === 'Unterminated string literal' && code.split('`').length % 2 === 0;
    const isOpen = isTemplate || /end of file|terminate multi-line comment/.test(error.message);
    return isOpen ? { status: 'incomplete', indent: '  ' } : { status: 'invalid' };
  }
}
