import { table } from 'arquero';
import { rise, sharedCents } from '../../acoustics/rise.ts';
import { cautions } from '../../bench/cautions.ts';
import { amountText, directionText, signedCents, stringsText } from '../../bench/move-words.ts';
import type { SaddleStory } from '../../bench/saddle-story.ts';
import { answersText } from '../../bench/worksheet-notes.ts';
import { makeWorksheets, type Worksheet } from '../../bench/worksheet.ts';
import type { LoggedReading } from '../../logs/append-log.ts';
import type { HouseStandard, StandardModel } from '../../policy/standard.ts';
import type { Usage } from '../../policy/usage.ts';

/** What advice is given by. */
export interface AdviceSource {
  readonly standard: HouseStandard;
  readonly models: readonly StandardModel[];
  readonly usage: Usage;
}

/** Gives advice string by string, and says what need be said once only once. */
export interface Adviser {
  /** Undefined without a standard. */
  readonly source: AdviceSource | undefined;
  /**
   * What to do about a string that has just been read at the 12th and the 17th.
   *
   * @param readings of its instrument, of any pass
   */
  readonly adviseString: (readings: readonly LoggedReading[], pass: number, string: number) => string[];
}

/** An adviser for one session; without a standard it tells the rise alone. */
export function makeAdviser(source: AdviceSource | undefined): Adviser {
  const told = new Set<string>();
  const once = (...sentences: string[]): string[] =>
    sentences.filter((one) => !told.has(one) && told.add(one).size > 0);
  return {
    source,
    adviseString: (readings, pass, string) => {
      const own = readings.filter((one) => one.pass === pass && one.string === string);
      if (!source) return [riseText(meanCents(own, 12), meanCents(own, 17))];
      const sheet = worksheetAfter(readings, pass, source);
      const story = storyOf(sheet, string);
      const isMoved = story?.move && story.move.action !== 'leave' && unreadStrings(story).length === 0;
      return [
        ...stringAdvice(sheet, string),
        ...once(...sheet.checks.map((one) => `Check first: ${one}`)),
        ...(isMoved ? once(...assumptions(sheet), cautions[0]!) : []),
      ];
    },
  };
}

/**
 * The worksheet of one instrument after one of its passes.
 *
 * @param readings of this instrument, at least one at this pass or before
 */
export function worksheetAfter(readings: readonly LoggedReading[], pass: number, source: AdviceSource): Worksheet {
  const own = readings.filter((one) => one.pass <= pass);
  const column = <K extends keyof LoggedReading>(name: K): LoggedReading[K][] => own.map((one) => one[name]);
  const columns = {
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
  };
  return makeWorksheets(table(columns), source)[0]!;
}

/** What the 12th and the 17th of a string say without a standard: the part that no saddle move changes. */
export function riseText(cents12: number, cents17: number): string {
  const t = rise(cents12, cents17);
  const [only17, only12] = [sharedCents(0, t).cents17, sharedCents(1, t).cents12];
  return `t = ${signedCents(t)} cents, which no saddle move changes: with the 12th exact the 17th reads ${signedCents(only17)}, with the 17th exact the 12th reads ${signedCents(only12)}.`;
}

function meanCents(readings: readonly LoggedReading[], fret: number): number {
  const own = readings.filter((one) => one.fret === fret);
  return own.reduce((sum, { cents }) => sum + cents, 0) / own.length;
}

function storyOf(sheet: Worksheet, string: number): SaddleStory | undefined {
  return sheet.saddles.find(({ strings }) => strings.some((one) => one.string === string));
}

function stringAdvice(sheet: Worksheet, string: number): string[] {
  const story = storyOf(sheet, string);
  const plan = story?.strings.find((one) => one.string === string);
  if (!story || typeof plan?.measured !== 'number')
    return [`No model of the standard has a string ${string}; nothing can be advised.`];
  const { measured, expected, usual } = plan;
  const range = `${signedCents(expected - usual)} to ${signedCents(expected + usual)}`;
  const by =
    plan.expectation.from === 'shop' ? ', by the mean of the models in the standard, which does not have this one' : '';
  return [
    Math.abs(measured - expected) <= usual
      ? `t = ${signedCents(measured)} cents, as usual (${range}${by}).`
      : `t = ${signedCents(measured)} cents, NOT as usual (${range}${by}). Read both frets again, and look at the string and its nut slot, before you move anything.`,
    ...answersText({ ...sheet, saddles: [story] }),
    ...saddleAdvice(story),
  ];
}

/** Strings on the saddle that are not read at both frets. */
function unreadStrings({ strings, unread }: SaddleStory): number[] {
  const partly = strings.filter(({ read12, read17 }) => read12 === null || read17 === null);
  return [...unread, ...partly.map((one) => one.string)].sort((a, b) => a - b);
}

function saddleAdvice(story: SaddleStory): string[] {
  const { move, madeMm, strings } = story;
  const missing = unreadStrings(story);
  if (missing.length > 0)
    return [
      `The saddle is under ${stringsText(missing)} too: read ${missing.length === 1 ? 'it' : 'them'} before you move it.`,
    ];
  if (!move) return [];
  const isOne = strings.length === 1;
  const who = isOne ? 'Saddle' : `Saddle of ${stringsText(strings.map((one) => one.string))}`;
  const each = strings.map(({ string, predicted12, predicted17, target, window }) => {
    const wanted = `wanted ${signedCents(target)} ± ${window.toFixed(1)}`;
    const cents = `12th ${signedCents(predicted12!)} (${wanted}), 17th ${signedCents(predicted17!)}`;
    return isOne ? cents : `string ${string}: ${cents}`;
  });
  const then = (word: string): string[] => (isOne ? [`${word}: ${each[0]!}.`] : [`${word}:`, ...each]);
  if (move.action === 'leave')
    return move.reach === 'beyond'
      ? [`${who}: at the end of its travel; do not force it.`]
      : [
          isOne ? `${who}: leave it, it is near enough.` : `${who}: leave it, for all of them it stands best so.`,
          ...then('As it is'),
        ];
  const end = move.reach === 'beyond' ? ' Its travel ends there; do not force it.' : '';
  const way = `${who}: ${directionText(move.action)}, ${amountText(move, madeMm, ', ')}.${end}`;
  return [way, ...then('Then, open string retuned')];
}

/** What the millimetres rest on where nobody has said. */
function assumptions({ facts, saddles }: Worksheet): string[] {
  const isAssumed = saddles.some(({ move }) => move?.reach === 'assumed');
  return [
    ...(facts.scaleFrom === 'assumed' ? [`Scale length not known: ${facts.scaleMm} mm is assumed.`] : []),
    ...(isAssumed ? ['Where the saddle stands is not noted ("saddle 1.2" does that); mid-travel is assumed.'] : []),
  ];
}
