import { demoModels, hasUsualTuning, lowWoundStrings, stringsOf, type DemoModel } from './models.ts';
import type { Random } from './random.ts';
import type { InstrumentTruth } from './truth.ts';

/** A planted fault; `strings` and `frets` are the readings it touches, `cents` its size (for poor readings, their sd). */
export interface Fault {
  readonly instrument: string;
  readonly kind: 'all-strings-high' | 'one-string' | 'poor-low-strings' | 'one-fret';
  readonly strings: readonly number[];
  readonly frets: readonly number[];
  readonly cents: number;
}

/** A suspicious but possible row put into a log: which instrument and string it befalls. */
export interface PlannedFinding {
  readonly kind:
    'duplicate' | 'two-models' | 'large-error' | 'twelfth-without-seventeenth' | 'sign-slip' | 'assumed-tuning';
  readonly instrument: string;
  readonly string: number;
}

export interface Plan {
  readonly faults: readonly Fault[];
  readonly findings: readonly PlannedFinding[];
}

/** The frets of the long look: those of the list that the model has. */
export function manyFretsOf(model: DemoModel): number[] {
  return [1, 3, 5, 7, 9, 12, 14, 15, 17, 19, 21].filter((fret) => fret <= model.frets);
}

/** The model of an instrument. */
export function modelOf({ model }: Pick<InstrumentTruth, 'model'>): DemoModel {
  return demoModels.find((known) => known.model === model)!;
}

type Fits = (instrument: InstrumentTruth, model: DemoModel) => boolean;
type Lottery = (what: string, fits: Fits) => InstrumentTruth;

/** Draws instruments so that none is used for two plantings; throws when no free instrument fits. */
function lottery(random: Random, instruments: readonly InstrumentTruth[]): Lottery {
  const taken = new Set<string>();
  return (what, fits) => {
    const free = instruments.filter((one) => !taken.has(one.instrument) && fits(one, modelOf(one)));
    if (free.length === 0) throw new Error(`No instrument is left to plant "${what}" in; expected at least one`);
    const drawn = random.pick(free);
    taken.add(drawn.instrument);
    return drawn;
  };
}

/** Which log an instrument is written to; the months decide, and with tech-a so does the way of writing. */
export function logOf({ technician, day }: InstrumentTruth): string {
  const month = Number(day.slice(5, 7));
  if (technician === 'tech-a') return `tech-a-${['jan-feb', 'mar-apr', 'may-jun'][Math.ceil(month / 2) - 1]!}.csv`;
  if (technician === 'tech-b') return month <= 3 ? 'tech-b-jan-mar.tsv' : 'tech-b-apr-jun.csv';
  return month <= 3 ? 'tech-c-jan-mar.csv' : 'tech-c-apr-jun.csv';
}

/** Draws the faulty instruments and those with a finding. Models with few instruments are spared. */
export function drawPlan(random: Random, instruments: readonly InstrumentTruth[]): Plan {
  const draw = lottery(random, instruments);
  return { faults: drawFaults(random, draw), findings: drawFindings(random, draw) };
}

function drawFaults(random: Random, draw: Lottery): Fault[] {
  const faults: Fault[] = [];
  const common = (model: DemoModel): boolean => model.instruments >= 11;
  // At most one raised instrument a model, so that the fault stands out from its kind.
  const raised = new Set<string>();
  const readFrets = (one: InstrumentTruth): number[] => (one.manyFrets ? manyFretsOf(modelOf(one)) : [12, 17]);
  for (const kind of ['all-strings-high', 'all-strings-high', 'one-string', 'one-string'] as const) {
    const one = draw(kind, (_, model) => common(model) && !raised.has(model.model));
    raised.add(one.model);
    const all = stringsOf(modelOf(one));
    const strings = kind === 'one-string' ? [random.pick(all)] : all;
    const cents = kind === 'one-string' ? 8 + Math.round(random.uniform() * 100) / 100 : 5;
    faults.push({
      instrument: one.instrument,
      kind,
      strings,
      frets: readFrets(one).filter((fret) => fret > 12),
      cents,
    });
  }
  for (const kind of ['poor-low-strings', 'poor-low-strings', 'one-fret', 'one-fret'] as const) {
    const one = draw(kind, ({ manyFrets }, model) => manyFrets && common(model));
    const model = modelOf(one);
    faults.push(
      kind === 'one-fret'
        ? { instrument: one.instrument, kind, strings: stringsOf(model), frets: [random.pick([14, 15, 19])], cents: 5 }
        : {
            instrument: one.instrument,
            kind,
            strings: lowWoundStrings(model),
            frets: manyFretsOf(model).filter((fret) => fret >= 9),
            cents: 3,
          },
    );
  }
  return faults;
}

function drawFindings(random: Random, draw: Lottery): PlannedFinding[] {
  const plan = (kind: PlannedFinding['kind'], fits: Fits): PlannedFinding => {
    const one = draw(kind, (instrument, model) => model.instruments >= 8 && fits(instrument, model));
    return { kind, instrument: one.instrument, string: random.pick(stringsOf(modelOf(one))) };
  };
  const isIn = (log: string, one: InstrumentTruth): boolean => logOf(one) === log;
  return [
    plan('duplicate', (one) => isIn('tech-c-jan-mar.csv', one)),
    plan('two-models', (one, { tuning }) => isIn('tech-a-jan-feb.csv', one) && one.passes > 1 && tuning.length <= 6),
    plan('large-error', (one) => one.technician === 'tech-c' && one.manyFrets),
    plan('twelfth-without-seventeenth', (one) => one.technician === 'tech-b' && !one.manyFrets && one.passes > 1),
    plan(
      'sign-slip',
      (one, model) => one.technician === 'tech-a' && one.passes === 2 && model.saddles.length === model.tuning.length,
    ),
    plan(
      'assumed-tuning',
      (one, model) =>
        one.technician === 'tech-a' &&
        !isIn('tech-a-jan-feb.csv', one) &&
        hasUsualTuning(model) &&
        !model.tuningIsListed,
    ),
  ];
}
