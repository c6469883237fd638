import { kappa } from '../acoustics/frets.ts';
import { moveCents } from '../acoustics/saddle.ts';
import type { Loss } from '../policy/loss.ts';
import { type Usage, usageWeights } from '../policy/usage.ts';
import type { BenchPass } from './bench-passes.ts';
import { type Gain, learnGain, learnGainByRule, measureResponse, type Response, unknownGain } from './response.ts';
import { planMove, type SaddleFacts, type SaddleMove, setbackOf } from './saddle-move.ts';
import type { KnownString } from './shared-shift.ts';
import type { StringEstimate } from './string-estimate.ts';

/** One string after the latest pass it was read at, and what it should read once the move is made. */
export interface StringPlan extends StringEstimate {
  readonly predicted12: number | null;
  readonly predicted17: number | null;
  /** How far from its target the move leaves the 12th. */
  readonly residual: number | null;
}

/** One saddle from its first pass to its latest: what to do now, and how it answered before. */
export interface SaddleStory {
  readonly strings: readonly StringPlan[];
  /** Strings on this saddle that were not read at this pass. */
  readonly unread: readonly number[];
  readonly pass: number;
  /** Undefined where no string was read at the 12th or the 17th, and where an open string has to be retuned first. */
  readonly move: SaddleMove | undefined;
  readonly response: Response | undefined;
  /** The move that the response answers, as asked for and as the saddle's place was written down before and after it. */
  readonly askedMm: number | undefined;
  /** Undefined where nobody wrote it down: then the move asked for is taken to have been made. */
  readonly madeMm: number | undefined;
  readonly gain: Gain;
  readonly facts: SaddleFacts;
}

/** What all saddles of a bench are judged by. */
export interface StoryOptions {
  readonly usage: Usage;
  readonly loss: Loss;
  readonly frets: number;
}

/** A pass with what was made of it. */
export interface EstimatedPass {
  readonly pass: BenchPass;
  readonly estimates: readonly StringEstimate[];
}

/**
 * Follows one saddle through the passes: at each the move to make, and from the second on how the readings answered the move
 * before, which the next one learns from.
 *
 * @returns undefined where none of its strings was ever read
 */
export function followSaddle(
  saddle: readonly number[],
  passes: readonly EstimatedPass[],
  facts: Omit<SaddleFacts, 'saddleMm'>,
  options: StoryOptions,
): SaddleStory | undefined {
  let gain = unknownGain;
  let story: SaddleStory | undefined;
  for (const { pass, estimates } of passes) {
    const own = estimates.filter(({ string }) => saddle.includes(string));
    if (own.length === 0) continue;
    const here: SaddleFacts = { ...facts, saddleMm: saddleReading(pass, saddle) };
    const answer = story && answerTo(story, own, here, pass.pass);
    if (answer)
      gain =
        answer.madeMm === undefined
          ? learnGain(gain, answer.response)
          : learnGainByRule(gain, answer.madeMm, story!.move!.moveMm);
    const known = own.filter((one): one is KnownString => one.twelfth !== null);
    const usage = known.map(({ string }) => usageWeights(options.usage, string, options.frets));
    const isTuned = (answer?.response.openStrings.length ?? 0) === 0;
    const move = known.length > 0 && isTuned ? planMove(known, here, { usage, loss: options.loss, gain }) : undefined;
    story = {
      strings: own.map((estimate) => predicted(estimate, move, here.scaleMm)),
      unread: saddle.filter((string) => !own.some((one) => one.string === string)),
      pass: pass.pass,
      move,
      response: answer?.response,
      askedMm: answer && story!.move!.moveMm,
      madeMm: answer?.madeMm,
      gain,
      facts: here,
    };
  }
  return story;
}

/** Mean over its strings of where the saddle was written down to stand. */
function saddleReading({ saddleMm }: BenchPass, saddle: readonly number[]): number | null {
  const read = saddle.flatMap((string) => saddleMm.get(string) ?? []);
  return read.length === 0 ? null : read.reduce((sum, mm) => sum + mm, 0) / read.length;
}

/**
 * How the readings answered the move before. Where the saddle's place was written down at both passes the move made is known,
 * and the answer is held against it; else the move asked for is taken to have been made.
 */
function answerTo(
  before: SaddleStory,
  now: readonly StringEstimate[],
  { saddleMm, scaleMm }: SaddleFacts,
  pass: number,
): { response: Response; madeMm: number | undefined } | undefined {
  if (!before.move) return undefined;
  const then = before.facts.saddleMm;
  const madeMm = saddleMm === null || then === null ? undefined : saddleMm - then;
  const setbackMm = setbackOf(before.facts) ?? 0;
  const predicted = madeMm === undefined ? before.move.changeCents : moveCents(12, madeMm, { scaleMm, setbackMm });
  const response = measureResponse(before.strings, now, { predicted, from: before.pass, to: pass });
  return response && { response, madeMm };
}

function predicted(estimate: StringEstimate, move: SaddleMove | undefined, scaleMm: number): StringPlan {
  const { twelfth, shrunk, target, read17 } = estimate;
  if (twelfth === null || !move) return { ...estimate, predicted12: null, predicted17: null, residual: null };
  if (move.action === 'leave')
    return {
      ...estimate,
      predicted12: twelfth,
      predicted17: read17 ?? kappa * twelfth + shrunk,
      residual: twelfth - target,
    };
  const from = { scaleMm, setbackMm: move.setbackMm };
  const predicted12 = twelfth + moveCents(12, move.moveMm, from);
  return {
    ...estimate,
    predicted12,
    predicted17: kappa * twelfth + shrunk + moveCents(17, move.moveMm, from),
    residual: predicted12 - target,
  };
}

/** Whether a string's open string is suspected to have been out of tune at the latest pass: its readings then say little else. */
export function isOpenSuspected({ response }: SaddleStory, string: number): boolean {
  return response?.openStrings.some((one) => one.string === string) ?? false;
}
