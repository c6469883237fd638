import { demoModels, stringsOf, type DemoModel } from './models.ts';
import type { Random } from './random.ts';

/** Means and standard deviations the truth is drawn from, in cents unless named otherwise. */
export interface ShopParameters {
  readonly riseMean: number;
  readonly riseStringSd: number;
  readonly riseModelSd: number;
  readonly riseModelStringSd: number;
  readonly nutMean: number;
  readonly nutModelSd: number;
  /** b, the instrument's rise on all its strings. */
  readonly instrumentRiseSd: number;
  /** c, the rise of one string of one instrument. */
  readonly stringRiseSd: number;
  /** a, the nut of one string of one instrument. */
  readonly stringNutSd: number;
  readonly readingSd: number;
  /** Error of a saddle as received, in mm. */
  readonly setbackSdMm: number;
  /** Fixed offsets of the strings over a shared saddle part, in mm. */
  readonly saddleOffsetSdMm: number;
  /** What a technician's hand adds to a wanted saddle move, in mm. */
  readonly moveSdMm: number;
}

/** The parameters of the committed shop. */
export const shopParameters: ShopParameters = {
  riseMean: 2.5,
  riseStringSd: 0.6,
  riseModelSd: 1,
  riseModelStringSd: 0.6,
  nutMean: 0.5,
  nutModelSd: 0.3,
  instrumentRiseSd: 0.6,
  stringRiseSd: 0.7,
  stringNutSd: 0.4,
  readingSd: 0.5,
  setbackSdMm: 0.7,
  saddleOffsetSdMm: 0.25,
  moveSdMm: 0.12,
};

/** A technician: what the hand adds to every fretted note (`nut`) and to the rise, in cents, and how the log is kept. */
export interface TechnicianTruth {
  readonly technician: 'tech-a' | 'tech-b' | 'tech-c';
  readonly nut: number;
  readonly rise: number;
  readonly resolutionCents: number;
  /** The rule of thumb the saddle is moved by. */
  readonly target: '12th exact' | 'even split' | '12th on the low strings, splitting toward the high ones';
}

/** The three technicians; effects sum to zero. tech-c presses hard, tech-b's tuner shows whole cents. */
export const technicians: readonly TechnicianTruth[] = [
  { technician: 'tech-a', nut: -0.2, rise: -0.5, resolutionCents: 0.1, target: '12th exact' },
  { technician: 'tech-b', nut: -0.4, rise: -0.3, resolutionCents: 1, target: 'even split' },
  {
    technician: 'tech-c',
    nut: 0.6,
    rise: 0.8,
    resolutionCents: 0.1,
    target: '12th on the low strings, splitting toward the high ones',
  },
];

/** What is true of one string of one model: the trend model's `rise_ms` and `nut_m`, for the mean of the three hands. */
export interface CellTruth {
  readonly model: string;
  readonly string: number;
  readonly rise: number;
  readonly nut: number;
  /** Where a shared saddle part stands under this string beside the part's own setback, in mm; 0 with a saddle a string. */
  readonly saddleOffsetMm: number;
}

/** What is true of one instrument, planted faults apart; `a` and `c` start at string 1. */
export interface InstrumentTruth {
  readonly instrument: string;
  readonly model: string;
  readonly technician: TechnicianTruth['technician'];
  /** Date of all its readings. */
  readonly day: string;
  /** Passes read: 1 is as received only. */
  readonly passes: number;
  readonly manyFrets: boolean;
  readonly b: number;
  readonly a: readonly number[];
  readonly c: readonly number[];
}

/** Draws the rise and the nut of every model and string. */
export function drawCells(random: Random, parameters: ShopParameters): CellTruth[] {
  const byString = Array.from({ length: 7 }, () => random.normal(parameters.riseStringSd));
  return demoModels.flatMap((model) => {
    const nut = round4(parameters.nutMean + random.normal(parameters.nutModelSd));
    const byModel = random.normal(parameters.riseModelSd);
    return stringsOf(model).map((string) => {
      const deviation = byString[string - 1]! + byModel + random.normal(parameters.riseModelStringSd);
      const isShared = model.saddles.some((part) => part.length > 1);
      const saddleOffsetMm = isShared ? random.written(parameters.saddleOffsetSdMm) : 0;
      return { model: model.model, string, rise: round4(parameters.riseMean + deviation), nut, saddleOffsetMm };
    });
  });
}

/**
 * Draws the instruments: every technician gets an even part of every model, a third of each model is read at many
 * frets, days are spread over half a year and job numbers follow the days.
 */
export function drawInstruments(random: Random, parameters: ShopParameters): InstrumentTruth[] {
  const all = demoModels.flatMap((model) => {
    const hands = dealt(random, model.instruments);
    const third = dealt(random, model.instruments);
    return hands.map((hand, i) => ({
      ...drawDeviations(random, { model, parameters }),
      model: model.model,
      technician: technicians[hand]!.technician,
      day: workday(random.whole(24 * 5)),
      passes: drawPasses(random),
      manyFrets: third[i] === 0,
    }));
  });
  all.sort((one, other) => (one.day < other.day ? -1 : one.day > other.day ? 1 : 0));
  return all.map((one, i) => ({ instrument: `J${1001 + i}`, ...one }));
}

/** 0, 1 and 2 in equal numbers as far as `length` allows, shuffled; which of them comes more often is drawn too. */
function dealt(random: Random, length: number): number[] {
  const first = random.whole(3);
  return random.shuffled(Array.from({ length }, (_, i) => (first + i) % 3));
}

function drawDeviations(
  random: Random,
  { model, parameters }: { model: DemoModel; parameters: ShopParameters },
): Pick<InstrumentTruth, 'a' | 'b' | 'c'> {
  return {
    b: random.written(parameters.instrumentRiseSd),
    a: stringsOf(model).map(() => random.written(parameters.stringNutSd)),
    c: stringsOf(model).map(() => random.written(parameters.stringRiseSd)),
  };
}

/** One in ten is only read as received, one in four is moved twice. */
function drawPasses(random: Random): number {
  const draw = random.uniform();
  return draw < 0.1 ? 1 : draw < 0.75 ? 2 : 3;
}

/** The date of a working day, counted from Monday 2026-01-12. */
function workday(count: number): string {
  const days = 7 * Math.floor(count / 5) + (count % 5);
  return new Date(Date.UTC(2026, 0, 12 + days)).toISOString().slice(0, 10);
}

function round4(value: number): number {
  return Math.round(value * 1e4) / 1e4;
}
