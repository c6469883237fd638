import { signed } from '../acoustics/signed.ts';
import type { SaddleMove } from './saddle-move.ts';
import type { SaddleStory } from './saddle-story.ts';

/** Cents with a sign, in tenths, for plain text. */
export function signedCents(cents: number): string {
  return signed(cents, 1, '-');
}

/** `string 1`, `strings 1 and 2`, `strings 1, 2 and 5`. */
export function stringsText(strings: readonly number[]): string {
  const sorted = strings.toSorted((a, b) => a - b);
  const last = sorted.pop()!;
  return sorted.length === 0 ? `string ${last}` : `strings ${sorted.join(', ')} and ${last}`;
}

/** A direction as the bench says it. */
export function directionText(action: SaddleMove['action']): string {
  if (action === 'leave') return 'leave it';
  return action === 'back' ? 'back, away from the neck' : 'forward, toward the neck';
}

/** A length to the twentieth of a millimetre that a rule can show, without sign. */
export function millimetresText(mm: number): string {
  return `${(Math.round(Math.abs(mm) * 20) / 20).toFixed(2)} mm`;
}

const eighths = ['', '1/8', '1/4', '3/8', '1/2', '5/8', '3/4', '7/8'];

/** Turns to the nearest eighth, without sign: `1 1/4 turns`, `3/4 turn`. */
export function turnsText(turns: number): string {
  const count = Math.round(Math.abs(turns) * 8);
  if (count === 0) return 'under 1/8 turn';
  const [whole, part] = [Math.floor(count / 8), eighths[count % 8]!];
  const number = [whole === 0 ? '' : String(whole), part].filter((text) => text !== '').join(' ');
  return `${number} ${count > 8 ? 'turns' : 'turn'}`;
}

/**
 * How far a saddle goes, without direction: millimetres, and turns where the screw is known. Without turns and without a rule
 * beside the saddle it is the distance to aim for, as earlier answers have shown it to come out.
 */
export function amountText({ moveMm, aimMm, turns }: SaddleMove, madeMm: number | undefined, joint: string): string {
  if (turns !== null) return `${millimetresText(moveMm)}${joint}${turnsText(turns)}`;
  return millimetresText(madeMm === undefined ? aimMm : moveMm);
}

/** What comes before any move of a saddle that has none: readings, or an open string in tune. */
export function waitText({ response }: SaddleStory): string {
  const open = response?.openStrings ?? [];
  return open.length > 0
    ? `retune ${stringsText(open.map(({ string }) => string))}, read again`
    : 'read the 12th and the 17th';
}
