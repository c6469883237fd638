import { kappa } from '../acoustics/frets.ts';
import type { Identified } from './trend-model.ts';
import type { Trend } from './fit-trend.ts';

const signed = (cents: number): string => `${cents < 0 ? '−' : '+'}${Math.abs(cents).toFixed(2)}`;

/** Plain sentences on what the estimates contain, what was left out and why. */
export function trendNotes(
  trend: Pick<Trend, 'models' | 'hands' | 'downWeighted' | 'faults' | 'sums'>,
  identified: Identified,
  boundary: readonly string[],
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
      "The technicians' hands are not told apart: each would need at least 3 instruments. Their differences are part of the spread between instruments.",
    );
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
      `Nothing is said of ${silent.join(', ')} (model/string): no instrument was read there at two frets or more.`,
    );
  if (!identified.instrumentStrings)
    notes.push(
      'No string was read more than once, so differences between instruments cannot be told from reading error; their sum stands for both, and expected errors are on the safe side.',
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
  if (few.length > 0) notes.push(`Few instruments, so the estimate leans on other models: ${few.join(', ')}.`);
  for (const edge of boundary) notes.push(`At the edge of what can be estimated: ${edge}.`);
  return notes;
}
