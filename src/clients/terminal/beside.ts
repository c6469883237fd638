import { millimetresText } from '../../bench/move-words.ts';
import { numberAfter } from './bench-line.ts';

/** What goes with a string's readings: what it reads open, or where its saddle stands in mm. */
export type Beside = 'open' | 'saddle';

/** The number typed after `open` or `saddle`; or what was found and expected. */
export function readBeside(
  word: Beside,
  rest: string,
  reads: 'cents' | 'hz',
): { readonly value: string } | { readonly fault: string } {
  const [low, high] = word === 'open' && reads === 'hz' ? [10, 5000] : [-50, 50];
  const value = numberAfter(rest);
  if (value !== undefined && Number(value) >= low && Number(value) <= high) return { value };
  const what =
    word === 'saddle' ? 'millimetres, plus is back, away from the neck' : `what the open string reads in ${reads}`;
  return { fault: `Found "${rest}" after "${word}", expected ${what}, ${low} to ${high}.` };
}

/** What it means from now on. */
export function besideText(
  word: Beside,
  value: string,
  { string, reads }: { readonly string: number; readonly reads: 'cents' | 'hz' },
): string {
  if (word === 'open')
    return `String ${string}: open it reads ${value} ${reads === 'hz' ? 'Hz' : 'cents'}; its readings from now on are taken against that.`;
  const mm = Number(value);
  const where = mm === 0 ? 'at' : `${millimetresText(mm)} ${mm < 0 ? 'forward' : 'back'} of`;
  return `String ${string}: the saddle stands ${where} the nominal scale length; noted with its readings from now on.`;
}
