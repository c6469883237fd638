import { beatHz, type CoincidingPartials, coincidingPartials } from '../acoustics/partials.ts';
import { cents, hzAbove } from '../acoustics/pitch.ts';
import type { ModelSpec } from '../logs/models.ts';
import { assumedTuningHz } from '../logs/tuning.ts';
import type { Shape } from './chord-shapes.ts';
import type { NeckMap } from './neck-map.ts';

/** A note of a shape: its pitch in equal temperament in hertz, and its error in cents before and after. */
export interface ChordNote {
  readonly string: number;
  readonly fret: number;
  readonly hz: number;
  readonly before: number;
  readonly after: number;
}

/** Two notes of a shape that sound together. */
export interface IntervalCheck {
  readonly lower: ChordNote;
  readonly upper: ChordNote;
  readonly semitones: number;
  /** Error against equal temperament in cents, positive where the interval is too wide. */
  readonly cents: { readonly before: number; readonly after: number };
  /** The partials that beat, and their beats a second; null where none of the first eight come close (see `coincidingPartials`). */
  readonly beats:
    | ({ readonly partials: CoincidingPartials } & Readonly<Record<'before' | 'after' | 'equalTemperament', number>>)
    | null;
}

/** A shape on a neck, with the interval that errs most before and the one that errs most after. */
export interface ShapeCheck {
  readonly shape: string;
  /** From string 1; null: not played. */
  readonly frets: readonly (number | null)[];
  /** Every two notes, lowest first. */
  readonly intervals: readonly IntervalCheck[];
  readonly worst: { readonly before: IntervalCheck; readonly after: IntervalCheck };
}

export interface ChordCheck {
  readonly model: string;
  readonly instrument: string | null;
  readonly before: NeckMap['before'];
  /** Whether models.csv gives the open notes, or the usual ones for so many strings were taken. */
  readonly tuning: 'given' | 'assumed' | 'unknown';
  readonly shapes: readonly ShapeCheck[];
  /** Shapes that the instrument cannot play as they are meant, and why. */
  readonly unfit: readonly { readonly shape: string; readonly reason: string }[];
}

/** Tunings count as the same when their strings stand the same intervals apart to within this many cents. */
const sameTuningCents = 50;

/**
 * Holds chord shapes against a neck map: the error of every interval between two sounding notes, before and after, and how
 * fast its nearest coinciding partials beat, beside the beats that equal temperament itself has.
 *
 * @param specs models.csv, for the open notes; where it is silent, the usual tuning of so many strings
 */
export function checkChords(map: NeckMap, shapes: readonly Shape[], specs: readonly ModelSpec[]): ChordCheck {
  const spec = specs.find(({ model }) => model === map.model);
  const strings = spec?.strings ?? Math.max(...map.strings.map(({ string }) => string), ...map.unread);
  const tuningHz = spec?.tuningHz ?? assumedTuningHz(strings, 440);
  const checked: ShapeCheck[] = [];
  const unfit: { shape: string; reason: string }[] = [];
  for (const shape of shapes) {
    const fit = fitShape(shape, map, tuningHz);
    if (typeof fit === 'string') unfit.push({ shape: shape.shape, reason: fit });
    else checked.push(checkShape(shape, fit));
  }
  return {
    model: map.model,
    instrument: map.instrument,
    before: map.before,
    tuning: spec?.tuningHz ? 'given' : tuningHz ? 'assumed' : 'unknown',
    shapes: checked,
    unfit,
  };
}

/** The notes that a shape sounds on a neck, or in words why it does not fit. */
function fitShape(shape: Shape, map: NeckMap, tuningHz: readonly number[] | undefined): ChordNote[] | string {
  if (!tuningHz) return 'the tuning of the instrument is not known (models.csv can give it)';
  const { length } = shape.tuningHz;
  if (tuningHz.length < length) return `the instrument has ${tuningHz.length} strings, the shape is for ${length}`;
  const apart = shape.tuningHz.map((hz, at) => cents(tuningHz[at]!, hz));
  if (Math.max(...apart) - Math.min(...apart) > sameTuningCents)
    return 'the strings of the instrument stand other intervals apart';
  const most = Math.max(...shape.frets.map((fret) => fret ?? 0));
  if (most > map.frets) return `the instrument has ${map.frets} frets, the shape needs ${most}`;
  const notes: ChordNote[] = [];
  for (const [at, fret] of shape.frets.entries()) {
    if (fret === null) continue;
    const string = map.strings.find((one) => one.string === at + 1);
    if (!string) return `string ${at + 1} of the instrument was not read`;
    notes.push({
      string: at + 1,
      fret,
      hz: hzAbove(tuningHz[at]!, 100 * fret),
      before: string.before[fret]!.cents,
      after: string.after[fret]!.cents,
    });
  }
  return notes;
}

function checkShape({ shape, frets }: Shape, notes: readonly ChordNote[]): ShapeCheck {
  const upward = [...notes].sort((a, b) => a.hz - b.hz);
  const intervals = upward.flatMap((lower, at) => upward.slice(at + 1).map((upper) => checkInterval(lower, upper)));
  const worst = (when: 'before' | 'after'): IntervalCheck =>
    intervals.reduce((most, one) => (Math.abs(one.cents[when]) > Math.abs(most.cents[when]) ? one : most));
  return { shape, frets, intervals, worst: { before: worst('before'), after: worst('after') } };
}

function checkInterval(lower: ChordNote, upper: ChordNote): IntervalCheck {
  const semitones = Math.round(cents(upper.hz, lower.hz) / 100);
  const partials = coincidingPartials(semitones);
  const beats = (off: (note: ChordNote) => number): number =>
    beatHz(hzAbove(lower.hz, off(lower)), hzAbove(upper.hz, off(upper)), partials!);
  return {
    lower,
    upper,
    semitones,
    cents: { before: upper.before - lower.before, after: upper.after - lower.after },
    beats: partials && {
      partials,
      before: beats(({ before }) => before),
      after: beats(({ after }) => after),
      equalTemperament: beats(() => 0),
    },
  };
}
