import type { Finding } from '../logs/findings.ts';
import { millimetresText, signedCents, stringsText } from './move-words.ts';
import { usualRatio, type Response } from './response.ts';
import { isOpenSuspected, type SaddleStory, type StringPlan } from './saddle-story.ts';
import { setbackOf } from './saddle-move.ts';
import type { Worksheet } from './worksheet.ts';

/** A worksheet before its sentences. */
export type WorksheetFigures = Omit<Worksheet, 'checks' | 'answers' | 'notes'>;

/** Rows of the log that look wrong, of these kinds, bear on what the worksheet says. */
const tellingFindings: ReadonlySet<Finding['kind']> = new Set(['large-error', 'sign-slip', 'two-models', 'duplicate']);

/** What to check before any saddle is moved. */
export function checksFirst(sheet: WorksheetFigures, findings: readonly Finding[]): string[] {
  const own = findings.filter(({ instrument, kind }) => instrument === sheet.instrument && tellingFindings.has(kind));
  return [
    ...sheet.faults.map(({ message }) => `${capital(message)}.`),
    ...own.map(
      ({ file, line, string, message }) => `${file}:${line}${string === null ? '' : `, string ${string}`}: ${message}.`,
    ),
  ];
}

/** How the saddles answered the move before: what was not as predicted, why that may be, and what the next step counts with. */
export function answersText({ saddles }: WorksheetFigures): string[] {
  const answered = saddles.filter(({ response }) => response !== undefined);
  const said = answered.flatMap((saddle) => {
    const response = saddle.response!;
    const open = response.openStrings.map(
      ({ string, cents }) =>
        `String ${string}: all frets read ${signedCents(cents)} cents against pass ${response.from}, which no saddle does. Retune the open string exactly and read again before you move anything.`,
    );
    return open.length > 0 ? open : answerText(response, saddle);
  });
  const asked = answered.filter(({ response }) => response!.predicted !== 0);
  if (said.length === 0 && asked.length > 0) said.push('The saddles answered as predicted.');
  return [...said, ...learntText(saddles)];
}

/** What the next step counts with, where that is not what was stated. */
function learntText(saddles: readonly SaddleStory[]): string[] {
  const learnt = saddles.filter(
    ({ move, gain, response }) => response && move && move.action !== 'leave' && Math.abs(gain.mean - 1) >= 0.1,
  );
  const list = (which: readonly SaddleStory[], what: (saddle: SaddleStory) => string): string =>
    which.map((saddle) => `${what(saddle)} (${namesOf(saddle)})`).join(', ');
  const perTurn = ({ gain, facts }: SaddleStory): string => (gain.mean * facts.mmPerTurn!).toFixed(2);
  const screws = learnt.filter(({ facts }) => facts.mmPerTurn !== null);
  const byAnswer = screws.filter(({ madeMm }) => madeMm === undefined);
  const byRule = screws.filter(({ madeMm }) => madeMm !== undefined);
  const stated = screws[0]?.facts.mmPerTurn;
  const meant = learnt.filter(({ facts, madeMm }) => facts.mmPerTurn === null && madeMm === undefined);
  return [
    ...(byAnswer.length > 0
      ? [`Going by the answers, a turn does not make ${stated} mm; turns now count with ${list(byAnswer, perTurn)}.`]
      : []),
    ...(byRule.length > 0
      ? [
          `By the rule: ${list(byRule, ({ madeMm, askedMm }) => `went ${millimetresText(madeMm!)}, asked ${millimetresText(askedMm!)}`)}. If turned as asked, the screws are not as stated: turns now count with ${list(byRule, perTurn)} mm, not ${stated}.`,
        ]
      : []),
    ...(meant.length > 0
      ? [
          `Going by the answers, the hand makes other than it means, so the move given is what to aim for: ${list(meant, ({ gain, move }) => `${gain.mean.toFixed(2)} times, to make ${millimetresText(move!.moveMm)}`)}.`,
        ]
      : []),
  ];
}

function namesOf({ strings }: SaddleStory): string {
  return stringsText(strings.map(({ string }) => string));
}

function answerText(response: Response, saddle: SaddleStory): string[] {
  const { madeMm } = saddle;
  const who = capital(namesOf(saddle));
  const { predicted, measured, ratio, verdict } = response;
  const asked =
    madeMm === undefined
      ? `the move asked for should have changed the 12th by ${signedCents(predicted)} cents`
      : `the saddle went ${millimetresText(madeMm)} ${madeMm < 0 ? 'forward' : 'back'} by the rule, which should have changed the 12th by ${signedCents(predicted)} cents`;
  const what = `${who}: ${asked}; it changed by ${signedCents(measured)}`;
  const times = ratio === null ? '' : ` (${ratio.toFixed(2)} times; usual is ${usualRatio[0]} to ${usualRatio[1]})`;
  // A rule has seen the saddle move, so screw and saddle are not to blame.
  const screw = madeMm === undefined;
  switch (verdict) {
    case 'as-predicted':
      return [];
    case 'not-asked':
      return Math.abs(measured) > 3 * response.measuredSd
        ? [
            `${who}: to be left alone, and yet the 12th changed by ${signedCents(measured)} cents: was the open string retuned, did the saddle shift?`,
          ]
        : [];
    case 'too-small-to-tell':
      return [`${what}${times}, which reading noise alone can do after so small a move.`];
    case 'none':
      return [
        `${what}${times}. Check that ${screw ? 'the saddle moved with its screw and that ' : ''}the open string was retuned.`,
      ];
    case 'wrong-way':
      return [
        `${what}, the other way. Check ${screw ? 'which way the saddle went, and ' : ''}that the open string was retuned.`,
      ];
    case 'weak':
    case 'strong': {
      const other = screw ? `; else the screw travels ${verdict === 'weak' ? 'less' : 'more'} a turn than stated` : '';
      return [`${what}${times}. Check that the open string was retuned${other}.`];
    }
  }
}

/** What was assumed, and what stands in for what is missing. */
export function notesText(sheet: WorksheetFigures): string[] {
  const { model, facts, saddles, beyond } = sheet;
  const strings = saddles.flatMap((saddle) => saddle.strings);
  const those = (test: (one: (typeof strings)[number]) => boolean): number[] =>
    strings.filter(test).map(({ string }) => string);
  const say = (which: readonly number[], sentence: (who: string) => string): string[] =>
    which.length === 0 ? [] : [sentence(capital(stringsText(which)))];
  const isStrange = strings.every(({ expectation }) => expectation.from === 'shop');
  const compared = saddles.flatMap((saddle) =>
    saddle.strings.filter(({ measured, string }) => measured !== null && !isOpenSuspected(saddle, string)),
  );
  const unusual = compared.filter(({ measured, expected, usual }) => Math.abs(measured! - expected) > usual);
  return [
    ...(unusual.length > 0
      ? [
          `Unusual rise, as 5 of 100 have it: ${unusual.length > 4 ? stringsText(unusual.map(({ string }) => string)) : unusual.map(riseText).join(', ')}.`,
        ]
      : []),
    ...(unusual.length === 0 && compared.length > 0
      ? [
          `The rise as read is usual on ${compared.length === 1 ? stringsText([compared[0]!.string]) : 'every string read at both frets'}.`,
        ]
      : []),
    ...say(
      those(({ expectation }) => expectation.from === 'shop'),
      (who) =>
        `${isStrange ? `The standard does not have model ${model}` : `${who}: the standard's model ${model} has no such string`}; the mean of its models for that string number stands in, and is less sure.`,
    ),
    ...say(beyond, (who) => `${who}: no model of the standard has such a string; nothing can be said of it.`),
    ...say(
      those(({ read12, read17 }) => read12 !== null && read17 === null),
      (who) => `${who}: the 17th was not read; the expected rise stands in for the string's own.`,
    ),
    ...say(
      those(({ read12, read17 }) => read12 === null && read17 !== null),
      (who) => `${who}: the 12th was not read; it is inferred from the 17th and the expected rise. Better read it.`,
    ),
    ...say(
      those(({ read12, read17 }) => read12 === null && read17 === null),
      (who) => `${who}: neither the 12th nor the 17th was read, so nothing can be said of the saddle. Read both.`,
    ),
    ...saddles.flatMap(({ strings: read, unread }) =>
      unread.length === 0
        ? []
        : [
            `${capital(stringsText(unread))} on the saddle of ${stringsText(read.map(({ string }) => string))}: not read at this pass; a move shifts ${unread.length === 1 ? 'it' : 'them'} too.`,
          ],
    ),
    ...reachNotes(sheet),
    ...(facts.scaleFrom === 'assumed'
      ? [`The scale length is not known; ${facts.scaleMm} mm is assumed. Millimetres grow in proportion to it.`]
      : []),
    ...(facts.mmPerTurn === null ? ['What a turn of the screw does is not known, so no turns are given.'] : []),
  ];
}

function riseText({ string, measured, expected, usual }: StringPlan): string {
  return `string ${string} ${signedCents(measured!)} (usual ${signedCents(expected)} ± ${usual.toFixed(1)})`;
}

function reachNotes({ saddles, facts }: WorksheetFigures): string[] {
  const of = (reach: string): SaddleStory[] => saddles.filter(({ move }) => move?.reach === reach);
  const names = (list: readonly SaddleStory[]): string =>
    stringsText(list.flatMap((saddle) => saddle.strings.map(({ string }) => string)));
  const half = facts.travelMm === null ? '' : millimetresText(facts.travelMm / 2);
  const assumed = saddles.filter(
    ({ move, facts: own }) => (move?.reach === 'assumed' || move?.reach === 'beyond') && setbackOf(own) === null,
  );
  const unwritten = assumed.filter((saddle) => saddle.facts.saddleMm === null);
  const odd = assumed.filter((saddle) => saddle.facts.saddleMm !== null);
  return [
    ...(of('beyond').length > 0
      ? [
          `The travel ends before the target on ${names(of('beyond'))}: go to the end, do not force it, and see what the maker advises.`,
        ]
      : []),
    ...(unwritten.length > 0
      ? [
          `Where the saddle of ${names(unwritten)} stands is not written down (saddle_mm): it is taken to stand in the middle of its travel, ${half} from either end.`,
        ]
      : []),
    ...odd.map(
      (saddle) =>
        `The saddle of ${names([saddle])}: found saddle_mm ${saddle.facts.saddleMm!.toFixed(1)}, expected ${half} at most either way of the nominal scale length; it is taken to stand in the middle of its travel. Check travel_mm in models.csv, or measure again.`,
    ),
    ...(of('within').some(({ move }) => move!.action !== 'leave')
      ? [`Travel is taken to reach ${half} either way of the nominal scale length.`]
      : []),
    ...(of('unknown').length > 0 ? ['How far the saddles can go is not known: stop where the travel ends.'] : []),
  ];
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
