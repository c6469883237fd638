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
    if (!isOpen) return { status: 'invalid' };
    return { status: 'incomplete', indent: isTemplate ? '' : indent(code.split('\n').at(-1)!) };
  }
}

/** The space the next line begins with: that of the line before, and two more where that opens a bracket. */
function indent(line: string): string {
  const brackets = line.replace(/'[^']*'|"[^"]*"|`[^`]*`|\/\/.*/g, '').match(/[{([\])}]/g) ?? [];
  let open = 0;
  for (const bracket of brackets) open = '{(['.includes(bracket) ? open + 1 : Math.max(0, open - 1);
  const own = /^[ \t]*/.exec(line)![0];
  return open > 0 ? `${own}  ` : own;
}
