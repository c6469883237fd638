import type { CellPlace } from '../notebook/cell.ts';
import type { CellFailure } from '../notebook/output.ts';
import type { Place } from './compile.ts';

/** The name V8 knows a run's code by. */
export function frameName(run: number): string {
  return `upneck-cell-${run}`;
}

/** The author's place for a place in a run's code, or null for code of the kernel's own. */
export type Frames = (run: number, place: Place) => { readonly at: CellPlace; readonly sourceLine: string } | null;

/** What is known of an error thrown by a cell; its place is the innermost frame in a cell. */
export function describeFailure(error: unknown, frames: Frames): CellFailure {
  if (!(error instanceof Error)) {
    const message = typeof error === 'string' ? error : `a value that is not an Error was thrown: ${String(error)}`;
    return { name: 'Error', message, at: null, sourceLine: '', stack: [] };
  }
  let at: CellPlace | null = null;
  let sourceLine = '';
  const stack: string[] = [];
  for (const frame of frameLines(error)) {
    const match = /upneck-cell-(\d+):(\d+):(\d+)/.exec(frame);
    if (!match) {
      if (!isKernel(frame)) stack.push(frame);
      continue;
    }
    const found = frames(Number(match[1]), { line: Number(match[2]), column: Number(match[3]) });
    if (!found) continue;
    at ??= found.at;
    sourceLine ||= found.sourceLine;
    const caller = /^(?:async )?([\w$.<> ]+) \(/.exec(frame)?.[1];
    const place = printPlace(found.at);
    stack.push(caller ? `${caller} (${place})` : place);
  }
  return { name: error.name, message: plain(error.message), at, sourceLine, stack };
}

/** Text that a cell shows, with the author's places in the stacks of errors in it. */
export function inAuthorsPlaces(text: string, frames: Frames): string {
  if (!text.includes('upneck-cell-')) return text;
  const lines = text.split('\n').filter((line) => !(/^\s+at /.test(line) && isKernel(line)));
  return lines
    .join('\n')
    .replace(/upneck-cell-(\d+):(\d+):(\d+)/g, (whole, run: string, line: string, column: string) => {
      const found = frames(Number(run), { line: Number(line), column: Number(column) });
      return found ? printPlace(found.at) : whole;
    });
}

function printPlace({ cell, line, column }: CellPlace): string {
  return `cell "${cell}", line ${line}, column ${column}`;
}

function frameLines(error: Error): string[] {
  const lines = (error.stack ?? '').split('\n');
  return lines.filter((line) => /^\s+at /.test(line)).map((line) => line.replace(/^\s+at /, ''));
}

function isKernel(frame: string): boolean {
  return /src\/kernel\/|\/upneck-process-|node:internal|node:vm/.test(frame);
}

/** V8 words messages with the code as it runs; the author wrote `f`, not `(0 , $$f.v)`. */
function plain(message: string): string {
  return message
    .replace(/\(0\s*,\s*\$\$+(\w+)\.(?:v|checked)\)/g, '$1')
    .replace(/\$\$+(\w+)\.(?:v|checked|d)\b/g, '$1');
}
