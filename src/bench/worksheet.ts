import type { ColumnTable } from 'arquero';
import type { Finding } from '../logs/findings.ts';
import type { HouseStandard, StandardModel } from '../policy/standard.ts';
import type { Usage } from '../policy/usage.ts';
import type { Fault } from '../trend/fault-screen.ts';
import { type BenchInstrument, benchInstruments, keepBlocks } from './bench-passes.ts';
import { screenInstrument } from './departures-found.ts';
import { type Expectation, expectString } from './expectation.ts';
import { type EstimatedPass, followSaddle, isOpenSuspected, type SaddleStory } from './saddle-story.ts';
import { estimateStrings } from './string-estimate.ts';
import { answersText, checksFirst, notesText } from './worksheet-notes.ts';

/** What to do to one instrument, from readings just taken. Cents with the open string in tune, plus is sharp. */
export interface Worksheet {
  readonly instrument: string;
  readonly model: string;
  /** The latest pass. */
  readonly pass: number;
  readonly facts: ModelFacts;
  /** In the order of their thinnest string. */
  readonly saddles: readonly SaddleStory[];
  /** Strings that were read and that the standard knows nothing of. */
  readonly beyond: readonly number[];
  /** Patterns of a fault, the least likely to be chance first. */
  readonly faults: readonly Fault[];
  /** The same in sentences, with rows of the log that look wrong. */
  readonly checks: readonly string[];
  /** Sentences on saddles that did not answer the move before as predicted, and what the next step counts with. */
  readonly answers: readonly string[];
  /** Sentences on what was assumed and what stands in for what is missing. */
  readonly notes: readonly string[];
}

/** What is known of a model's neck and saddles, and whence. */
export interface ModelFacts {
  readonly scaleMm: number;
  readonly scaleFrom: 'log' | 'models' | 'assumed';
  readonly frets: number;
  readonly mmPerTurn: number | null;
  readonly travelMm: number | null;
  readonly saddles: readonly (readonly number[])[];
}

export interface WorksheetOptions {
  readonly standard: HouseStandard;
  /** What models.csv says now; a model it does not have is looked up in the standard. */
  readonly models: readonly StandardModel[];
  /** How often each string is played where: the profile the standard was drawn up with. Shared saddles are set by it. */
  readonly usage: Usage;
  /** Rows of the log that look wrong and were kept. */
  readonly findings?: readonly Finding[];
}

/** Scale length taken where nobody states one, in mm; frets likewise (common practice, no source). */
const commonScaleMm = 648;
const commonFrets = 21;

/**
 * A worksheet for each instrument of a log, in the order they first appear.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function makeWorksheets(readings: ColumnTable, options: WorksheetOptions): Worksheet[] {
  return benchInstruments(readings).map((instrument) => worksheetOf(instrument, options));
}

function worksheetOf(bench: BenchInstrument, options: WorksheetOptions): Worksheet {
  const { standard, usage } = options;
  const strings = [...new Set(bench.passes.flatMap(({ sums }) => [...sums.blockString]))].sort((a, b) => a - b);
  const expectations = new Map(
    strings.flatMap((string): [number, Expectation][] => {
      const expectation = expectString(standard, bench.model, string);
      return expectation ? [[string, expectation]] : [];
    }),
  );
  const facts = factsOf(bench, expectations, options);
  const passes = bench.passes.map((pass): EstimatedPass => ({
    pass,
    estimates: estimateStrings(pass.sums, expectations),
  }));
  const { loss } = standard.options;
  const saddles = facts.saddles.flatMap(
    (saddle) => followSaddle(saddle, passes, facts, { ...facts, usage, loss }) ?? [],
  );
  const faults = faultsOf(passes, saddles, expectations);
  const worksheet = {
    instrument: bench.instrument,
    model: bench.model,
    pass: bench.passes.at(-1)!.pass,
    facts,
    saddles,
    beyond: strings.filter((string) => !expectations.has(string)),
    faults,
  };
  return {
    ...worksheet,
    checks: checksFirst(worksheet, options.findings ?? []),
    answers: answersText(worksheet),
    notes: notesText(worksheet),
  };
}

function factsOf(
  { model, scaleMm }: BenchInstrument,
  expectations: ReadonlyMap<number, Expectation>,
  { models, standard }: WorksheetOptions,
): ModelFacts {
  const spec = [...models, ...standard.models].find((one) => one.model === model);
  const strings = [...expectations.keys()];
  const groups = (spec?.saddles ?? [...expectations.values()].map(({ saddle }) => saddle)).map((group) =>
    [...group].sort((a, b) => a - b),
  );
  const listed = groups.filter(
    (group, at) =>
      group.some((string) => strings.includes(string)) && groups.findIndex((one) => one[0] === group[0]) === at,
  );
  const unlisted = strings.filter((string) => !listed.some((group) => group.includes(string)));
  return {
    scaleMm: scaleMm ?? spec?.scaleMm ?? commonScaleMm,
    scaleFrom: scaleMm !== null ? 'log' : spec ? 'models' : 'assumed',
    frets: spec?.frets ?? commonFrets,
    mmPerTurn: spec?.mmPerTurn ?? null,
    travelMm: spec?.travelMm ?? null,
    saddles: [...listed, ...unlisted.map((string) => [string])].sort((a, b) => a[0]! - b[0]!),
  };
}

/** Screens the latest reading of every string, each from the pass that its saddle was last read at. */
function faultsOf(
  passes: readonly EstimatedPass[],
  saddles: readonly SaddleStory[],
  expectations: ReadonlyMap<number, Expectation>,
): Fault[] {
  const latest = saddles.flatMap((saddle) =>
    saddle.strings
      .filter(({ string }) => !isOpenSuspected(saddle, string))
      .map(({ string }) => ({ pass: saddle.pass, string })),
  );
  return [...new Set(latest.map(({ pass }) => pass))].flatMap((number) => {
    const { pass, estimates } = passes.find((one) => one.pass.pass === number)!;
    const own = latest.filter((one) => one.pass === number).map(({ string }) => string);
    const blocks = Array.from(pass.sums.blockString.keys()).filter((at) => own.includes(pass.sums.blockString[at]!));
    const found = screenInstrument(keepBlocks(pass.sums, blocks), expectations, estimates);
    return found.sort((a, b) => a.p - b.p);
  });
}
