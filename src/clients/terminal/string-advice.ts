import { table } from 'arquero';
import { sharedCents, rise } from '../../acoustics/rise.ts';
import { cautions } from '../../bench/cautions.ts';
import { amountText, directionText, signedCents, stringsText } from '../../bench/move-words.ts';
import type { SaddleStory } from '../../bench/saddle-story.ts';
import { answersText } from '../../bench/worksheet-notes.ts';
import { makeWorksheets, type Worksheet } from '../../bench/worksheet.ts';
import type { LoggedReading } from '../../logs/append-log.ts';
import type { HouseStandard, StandardModel } from '../../policy/standard.ts';
import type { Usage } from '../../policy/usage.ts';

/** What advice is given by; without a standard only the rise is told. */
export interface AdviceSource {
  readonly standard: HouseStandard;
  readonly models: readonly StandardModel[];
  readonly usage: Usage;
}

/** Mean of one string's readings at a fret; undefined where there are none. */
export function meanCents(readings: readonly LoggedReading[], fret: number): number | undefined {
  const own = readings.filter((one) => one.fret === fret);
  return own.length === 0 ? undefined : own.reduce((sum, { cents }) => sum + cents, 0) / own.length;
}

/** What the 12th and the 17th of a string say without a standard: the part that no saddle move changes. */
export function riseText(cents12: number, cents17: number): string {
  const t = rise(cents12, cents17);
  const [only12, only17] = [sharedCents(0, t).cents17, sharedCents(1, t).cents12];
  return `t = ${signedCents(t)} cents: what no saddle move changes. The 12th exact leaves the 17th at ${signedCents(only12)}, the 17th exact leaves the 12th at ${signedCents(only17)}.`;
}

/**
 * The worksheet of one instrument after one of its passes.
 *
 * @param readings of this instrument, at least one, any passes
 */
export function worksheetAfter(readings: readonly LoggedReading[], pass: number, source: AdviceSource): Worksheet {
  const own = readings.filter((one) => one.pass <= pass);
  const column = <K extends keyof LoggedReading>(name: K): LoggedReading[K][] => own.map((one) => one[name]);
  const readingsTable = table({
    instrument: column('instrument'),
    model: column('model'),
    string: column('string'),
    fret: column('fret'),
    pass: column('pass'),
    cents: column('cents'),
    technician: column('technician'),
    saddleMm: column('saddleMm'),
    scaleMm: column('scaleMm'),
    resolutionCents: column('resolutionCents'),
  });
  return makeWorksheets(readingsTable, source)[0]!;
}

/** What to do about one string that has just been read at the 12th and the 17th, a sentence or two a line. */
export function stringAdvice(sheet: Worksheet, string: number): string[] {
  const story = sheet.saddles.find(({ strings }) => strings.some((one) => one.string === string));
  const plan = story?.strings.find((one) => one.string === string);
  if (!story || typeof plan?.measured !== 'number')
    return [`No model of the standard has a string ${string}: nothing is advised.`];
  const usual = `${signedCents(plan.expected - plan.usual)} to ${signedCents(plan.expected + plan.usual)}`;
  const isUsual = Math.abs(plan.measured - plan.expected) <= plan.usual;
  return [
    isUsual
      ? `t = ${signedCents(plan.measured)} cents, as usual (${usual}).`
      : `t = ${signedCents(plan.measured)} cents is NOT usual (${usual}). Read both frets again, and look at the string and its nut slot, before you move anything.`,
    ...answersText({ ...sheet, saddles: [story] }),
    ...saddleAdvice(story),
  ];
}

function saddleAdvice(story: SaddleStory): string[] {
  const { move, madeMm, strings } = story;
  const missing = [
    ...story.unread,
    ...strings.filter(({ read12, read17 }) => read12 === null || read17 === null).map((one) => one.string),
  ].sort((a, b) => a - b);
  if (missing.length > 0)
    return [`${capital(stringsText(missing))} on the same saddle: read at 12 and 17 too, for the move is one.`];
  if (!move) return [];
  const who = strings.length === 1 ? 'Saddle' : `Saddle of ${stringsText(strings.map((one) => one.string))}`;
  const then = strings.map((plan) => {
    const name = strings.length === 1 ? '' : `string ${plan.string}: `;
    return `${name}12th ${signedCents(plan.predicted12!)}, 17th ${signedCents(plan.predicted17!)} (12th wanted ${signedCents(plan.target)} ± ${plan.window.toFixed(1)})`;
  });
  if (move.action === 'leave')
    return [
      move.reach === 'beyond'
        ? `${who}: stands at the end of its travel; do not force it.`
        : `${who}: leave it. ${capital(then.join('; '))}.`,
    ];
  const end = move.reach === 'beyond' ? ' Its travel ends there; do not force it.' : '';
  return [
    `${who}: ${directionText(move.action)}, ${amountText(move, madeMm, ', ')}.${end}`,
    `Then, open string retuned: ${then.join('; ')}.`,
  ];
}

/** The caution that goes with the first move advised. */
export const moveCaution: string = cautions[0]!;

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
