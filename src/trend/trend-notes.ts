import { kappa } from '../acoustics/frets.ts';
import type { BlockSums, Covariate } from '../sources/block-sums.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { finestScatter } from './string-moments.ts';
import type { Identified } from './trend-model.ts';
import type { Trend } from './trend.ts';

/** A note names at most so many models or instruments. */
const mostNamed = 12;

const signed = (cents: number): string => `${cents < 0 ? '−' : '+'}${Math.abs(cents).toFixed(2)}`;

/** Plain sentences on what the estimates contain, what was left out and why. */
export function trendNotes(
  trend: Pick<Trend, 'models' | 'covariates' | 'spread' | 'pooling' | 'hands' | 'downWeighted' | 'faults' | 'sums'>,
  identified: Identified,
  {
    convergence,
    dropped,
    silent: unheard,
  }: Pick<MixedFit, 'convergence' | 'dropped'> & { readonly silent: readonly Covariate[] },
): string[] {
  const { sums } = trend;
  const notes: string[] = [];
  notes.push(
    identified.nut
      ? 'Nut offsets are told apart from rises by the readings at other frets; a rise does not contain them.'
      : `With the 12th and the 17th alone a nut offset cannot be told from a rise: every rise contains ${(1 - kappa).toFixed(2)} times the nut's offset (a nut that reads +0.5 cents lowers a rise by 0.33). Read a few instruments at low frets too.`,
  );
  if (identified.technicians) {
    const strongest = [...trend.hands].sort((a, b) => Math.abs(b.rise.estimate) - Math.abs(a.rise.estimate))[0]!;
    notes.push(
      `Rises are those of the mean hand of ${trend.hands.length} technicians; ${strongest.technician || 'the unnamed one'} reads ${signed(strongest.rise.estimate)} cents of rise against that mean (95 % ${signed(strongest.rise.low)} to ${signed(strongest.rise.high)}).`,
    );
  } else if (sums.technicians.length > 1)
    notes.push(
      "The technicians' hands are not told apart: each would need at least 3 instruments, and models that others read too. Their differences are part of the rises of the models they read and of the spread between instruments.",
    );
  for (const { name, perUnit, missing } of trend.covariates)
    notes.push(
      `${name}: ${signed(perUnit.estimate)} cents of rise per ${name === 'wound' ? 'wound string' : 'mm'} (95 % ${signed(perUnit.low)} to ${signed(perUnit.high)})${missing > 0 ? `; ${missing} strings and passes without it count as the mean` : ''}.`,
    );
  if (unheard.length > 0)
    notes.push(`Nothing can be said of ${unheard.join(', ')}: the readings do not have it, or it never differs.`);
  if (dropped.some((term) => term.includes(' of technician ')))
    notes.push("Some technicians' hands cannot be told from what they read; they are taken as the mean hand.");
  const telling = new Set(trend.models.flatMap(({ model, cells }) => cells.map(({ string }) => `${model}/${string}`)));
  const silent = [
    ...new Set(
      Array.from(
        sums.blockString,
        (string, block) => `${sums.models[sums.modelOfInstrument[sums.blockInstrument[block]!]!]!}/${string}`,
      ),
    ),
  ].filter((key) => !telling.has(key));
  if (silent.length > 0)
    notes.push(
      `Nothing is said of ${some(silent)} (model/string): no instrument was read there at two frets or more, one of them above the 12th.`,
    );
  if (!identified.models && trend.models.length > 1)
    notes.push(
      'No model has two instruments, so models cannot be told from single instruments: every model gets the rise of the whole shop. Read a second instrument of some models.',
    );
  if (!identified.instrumentStrings)
    notes.push(
      'No string was read more than once, so differences between instruments cannot be told from reading error; their sum stands for both, and expected errors are on the safe side.',
    );
  if (identified.nut && !identified.stringNuts)
    notes.push(
      'Strings were read too seldom to tell the nut offsets of single strings from reading error; both are taken as reading error.',
    );
  if (trend.downWeighted.length > 0) {
    const instruments = new Set(trend.downWeighted.map(({ instrument }) => instrument));
    notes.push(
      `${instruments.size} instrument${instruments.size === 1 ? ' fits its' : 's fit their'} model badly on some string and count${instruments.size === 1 ? 's' : ''} for less than half there; none is left out.`,
    );
  }
  const few = trend.models
    .filter(({ instruments }) => instruments < 6)
    .map(({ model, instruments }) => `${model} (${instruments})`);
  if (few.length > 0 && trend.models.length === 1)
    notes.push(`Few instruments, so the intervals are wide: ${few.join()}.`);
  else if (few.length > 0 && identified.models)
    notes.push(`Few instruments, so the estimate leans on other models: ${some(few)}.`);
  const absent = notShown(trend, identified);
  if (absent.length > 0)
    notes.push(`The readings show no difference beyond chance ${absent.join(', nor ')}; it is taken as 0.`);
  if (trend.spread.reading <= finestScatter)
    notes.push(
      `The readings follow the model to within ${finestScatter} cents, closer than any tuner reads: check that they were measured, not computed. Nothing is weighed down, and the intervals say nothing.`,
    );
  else if (!convergence.converged)
    notes.push(
      'The search for the best fit did not settle fully: take the intervals as rough, and read more instruments.',
    );
  const alike = nearlyAlike(sums);
  if (alike.length > 0)
    notes.push(
      `Names that differ only in capitals or spaces count as different: ${some(alike)}. Where they mean the same, spell them alike.`,
    );
  return notes;
}

/** A list for a sentence; of a long one the start and the number of the rest. */
function some(words: readonly string[]): string {
  const rest = words.length - mostNamed;
  return rest > 0 ? `${words.slice(0, mostNamed).join(', ')} and ${rest} more` : words.join(', ');
}

/** What the model provides for and the readings do not show: standard deviations estimated at exactly 0. */
function notShown(
  { spread, pooling }: Pick<Trend, 'spread' | 'pooling'>,
  { instruments, instrumentStrings, stringNuts, models, strings, modelStrings, nutByModel }: Identified,
): string[] {
  const parts: [provided: boolean, deviation: number, words: string][] = [
    [models, pooling.model, 'between the rises of models'],
    [strings, pooling.string, 'between the rises of strings'],
    [modelStrings, pooling.modelString, 'in how strings differ from model to model'],
    [nutByModel, pooling.modelNut, 'between the nut offsets of models'],
    [instruments, spread.instrumentRise, 'between instruments of a model as a whole'],
    [instrumentStrings, spread.stringRise, 'between single strings of like instruments in their rise'],
    [stringNuts, spread.stringNut, 'between single strings of like instruments in their nut offset'],
  ];
  return parts.filter(([provided, deviation]) => provided && deviation === 0).map(([, , words]) => words);
}

/** Groups of models, and of instruments, whose names are the same but for capitals and spaces, each as `"Heron", "heron"`. */
function nearlyAlike({ models, instruments }: BlockSums): string[] {
  return [models, instruments].flatMap((names) => {
    const groups = new Map<string, string[]>();
    for (const name of names) {
      const key = name.toLowerCase().replace(/[\s\p{Cf}]+/gu, '');
      groups.set(key, [...(groups.get(key) ?? []), name]);
    }
    return [...groups.values()]
      .filter((group) => group.length > 1)
      .map((group) => group.map((name) => `"${name}"`).join(' and '));
  });
}
