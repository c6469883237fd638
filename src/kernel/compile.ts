import { SourceMap, type SourceMapPayload } from 'node:module';
import { transform, type TransformFailure } from 'esbuild';
import type { Known } from './cell-names.ts';
import { RewriteError } from './parse-cell.ts';
import { rewrite } from './rewrite.ts';

/** A place in a cell as its author sees it: 1-based line, 1-based column. */
export interface Place {
  readonly line: number;
  readonly column: number;
}

export interface Compiled {
  readonly code: string;
  readonly declared: readonly string[];
  /** Names the cell declares with const, or imports: later cells may declare them again, but not assign them. */
  readonly constants: readonly string[];
  /** The author's place for a 1-based place in `code`, or null where the code is the kernel's own. */
  readonly original: (place: Place) => Place | null;
}

/** A cell that is not a program; `place` is in the author's source. */
export class CompileError extends SyntaxError {
  readonly place: Place;

  constructor(message: string, place: Place) {
    super(message);
    this.place = place;
  }
}

/**
 * From the TypeScript of one cell to JavaScript that runs in the session.
 *
 * @throws {CompileError} when the source is not TypeScript, or breaks a rule of the language
 */
export async function compile(source: string, known: Known): Promise<Compiled> {
  const stripped = await strip(source);
  const strippedMap = mapOf(stripped.map);
  try {
    const { code, map, declared, constants } = rewrite(stripped.code, known);
    const codeMap = mapOf(map);
    const original = (place: Place): Place | null => {
      const middle = find(codeMap, place);
      return middle && find(strippedMap, middle);
    };
    return { code, declared, constants, original };
  } catch (error) {
    if (!(error instanceof RewriteError)) throw error;
    const place = { line: error.place.line, column: error.place.column + 1 };
    throw new CompileError(error.message, find(strippedMap, place) ?? place);
  }
}

async function strip(source: string): Promise<{ code: string; map: string }> {
  try {
    return await transform(source, {
      loader: 'ts',
      format: 'esm',
      target: 'node20',
      charset: 'utf8',
      sourcemap: 'external',
      sourcefile: 'cell.ts',
      sourcesContent: false,
      logLevel: 'silent',
      // A later cell may use what this one imports, so no import may be dropped.
      tsconfigRaw: { compilerOptions: { verbatimModuleSyntax: true, useDefineForClassFields: true } },
    });
  } catch (error) {
    const [first] = (error as Partial<TransformFailure>).errors ?? [];
    if (!first) throw error;
    // esbuild counts columns in bytes of UTF-8.
    const { line, column, lineText } = first.location ?? { line: 1, column: 0, lineText: '' };
    const before = Buffer.from(lineText).subarray(0, column).toString();
    throw new CompileError(first.text, { line, column: before.length + 1 });
  }
}

function mapOf(json: string): SourceMap {
  return new SourceMap(JSON.parse(json) as SourceMapPayload);
}

function find(map: SourceMap, { line, column }: Place): Place | null {
  // Text the rewriting puts in has no place of its own: it belongs to what follows it on its line.
  for (let ahead = 0; ahead < 40; ahead += 1) {
    const entry = map.findEntry(line - 1, column - 1 + ahead);
    if ('originalLine' in entry) return { line: entry.originalLine + 1, column: entry.originalColumn + 1 };
  }
  return null;
}
