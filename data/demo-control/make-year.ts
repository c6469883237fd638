import { riseShape } from '../../src/acoustics/frets.ts';
import { evenShare, rise, sharedCents } from '../../src/acoustics/rise.ts';
import { frettedCents, moveForCents } from '../../src/acoustics/saddle.ts';
import { csvText } from '../../src/logs/csv-text.ts';
import type { HouseStandard } from '../../src/policy/standard.ts';
import { defaultSeed as shopSeed, makeShop } from '../demo/make-shop.ts';
import { demoModels, type DemoModel } from '../demo/models.ts';
import { seededRandom, type Random } from '../demo/random.ts';
import { shopParameters, technicians, type CellTruth } from '../demo/truth.ts';

/** The seed of the committed year. */
export const defaultSeed = 823;

/** What is planted in the year. Days are ISO 8601; sizes in cents. */
export const planted = {
  /** From here on the bench follows the card; before, each technician follows a rule of thumb. */
  adopted: '2026-07-01',
  /** Leaves saddles further and further sharp: nothing at `from`, `cents` at `until` and after. */
  drift: { technician: 'tech-c', from: '2026-10-01', until: '2026-11-15', cents: 2.5 },
  /** New parts, whose travel ends so many cents short of where the saddle should stand. */
  parts: { model: 'Gravel 6', from: '2026-09-01', cents: 1.8 },
  /** One string of some jobs as received rises so much more; what becomes of it is said by `mended`. */
  faults: [
    { job: 9, string: 3, cents: 9, mended: true },
    { job: 31, string: 2, cents: 9, mended: false },
    { job: 60, string: 4, cents: 9, mended: false },
    { job: 101, string: 3, cents: 9, mended: true },
    { job: 140, string: 1, cents: 9, mended: true },
  ],
  /** Part that a move makes of what was wanted: by feel, and by the turns of a worksheet. */
  gain: { before: [0.4, 1.6], after: [0.85, 1.15] },
  /** Rule-of-thumb benches are content with so many cents. */
  contentCents: 1.5,
  /** A worksheet draws a string's own rise toward its model's, and keeps so much of the difference. */
  reliability: 0.7,
} as const;

/** What a year was made from. */
export interface YearTruth {
  readonly seed: number;
  readonly planted: typeof planted;
  readonly gauge: { readonly readingSd: number; readonly hands: Readonly<Record<string, number>> };
  /** Instruments with a planted fault, and those that came twice. */
  readonly faulty: readonly { readonly instrument: string; readonly string: number; readonly mended: boolean }[];
  readonly twice: readonly string[];
}

const jobs = 170;
/** Every ninth of the jobs after this one is an instrument of the first months that comes again. */
const returnsFrom = 100;
const neckFrets = [3, 5, 7, 9, 12, 15, 17, 19];
const mostPasses = 5;
const [yearStart, dayMs] = [Date.UTC(2026, 0, 5), 86_400_000];
const header = ['instrument', 'model', 'string', 'fret', 'pass', 'cents', 'measured_at', 'technician', 'note'] as const;
const shopModels = ['Larch 6', 'Thimble 6', 'Gravel 6', 'Heron Bass 4', 'Barley 6'];

/** An instrument for as long as it is known: its strings' truths, where its saddle parts stand, the next pass. */
interface Instrument {
  readonly name: string;
  readonly model: DemoModel;
  readonly strings: readonly { readonly nut: number; readonly rise: number; readonly offsetMm: number }[];
  readonly partMm: number[];
  nextPass: number;
}

type Row = readonly (string | number)[];

/**
 * A year of one bench as logs: `bench-2026.csv` with every job as received and after each move, `gauge-study.csv` with two
 * technicians reading the same strings twice.
 *
 * @param seed     whole number from 1 to 2^32 - 1; the same seed and standard give the same text
 * @param standard the card that is followed from the day it is taken up
 */
export function makeYear(seed: number, standard: HouseStandard): { readonly files: Record<string, string>; readonly truth: YearTruth } {
  const random = seededRandom(seed);
  const { cells } = makeShop(shopSeed).truth;
  const known: Instrument[] = [];
  const twice: string[] = [];
  const faulty: YearTruth['faulty'][number][] = [];
  const rows = Array.from({ length: jobs }, (_, at) => at).flatMap((at) => {
    const day = new Date(yearStart + Math.floor((at * 355) / jobs) * dayMs).toISOString().slice(0, 10);
    const isBack = at > returnsFrom && at % 9 === 0;
    const instrument = isBack ? known[(at - returnsFrom) % 40]! : drawInstrument(random, cells, at);
    if (isBack) {
      twice.push(instrument.name);
      // Back with the saddles moved by somebody else.
      instrument.partMm.forEach((mm, part) => (instrument.partMm[part] = mm + random.normal(1)));
    } else known.push(instrument);
    const fault = planted.faults.find(({ job }) => job === at);
    if (fault) faulty.push({ instrument: instrument.name, string: fault.string, mended: fault.mended });
    return readJob(random, instrument, { day, fault, hasNeck: at % 4 === 0, standard });
  });
  const study = gaugeStudyRows(random, cells);
  return {
    files: { 'bench-2026.csv': logText(rows), 'gauge-study.csv': logText(study) },
    truth: {
      seed,
      planted,
      gauge: {
        readingSd: shopParameters.readingSd,
        hands: Object.fromEntries(technicians.map(({ technician, nut }) => [technician, nut])),
      },
      faulty,
      twice,
    },
  };
}

function logText(rows: readonly Row[]): string {
  return csvText(header, rows).replaceAll('\r\n', '\n');
}

function drawInstrument(random: Random, cells: readonly CellTruth[], at: number): Instrument {
  const drawn = random.pick(shopModels);
  const model = demoModels.find(({ model: name }) => name === drawn)!;
  const shared = random.normal(shopParameters.instrumentRiseSd);
  return {
    name: `J${4001 + at}`,
    model,
    strings: model.tuning.map((_, string) => {
      const cell = cells.find((one) => one.model === model.model && one.string === string + 1)!;
      return {
        nut: cell.nut + random.normal(shopParameters.stringNutSd),
        rise: cell.rise + shared + random.normal(shopParameters.stringRiseSd),
        offsetMm: cell.saddleOffsetMm,
      };
    }),
    partMm: model.saddles.map(() => random.normal(1.2)),
    nextPass: 0,
  };
}

interface JobPlan {
  readonly day: string;
  readonly fault: (typeof planted.faults)[number] | undefined;
  readonly hasNeck: boolean;
  readonly standard: HouseStandard;
}

/** Reads, moves and reads again until the technician is content. */
function readJob(random: Random, instrument: Instrument, { day, fault, hasNeck, standard }: JobPlan): Row[] {
  const { model, strings, partMm } = instrument;
  const technician = random.pick(technicians);
  const isAfter = day >= planted.adopted;
  const [lowest, highest] = planted.gain[isAfter ? 'after' : 'before'];
  const rows: Row[] = [];
  for (let pass = 0; ; pass++) {
    const isMended = fault?.mended === true && pass > 0;
    const setback = (string: number): number => partMm[partOf(model, string)]! + strings[string - 1]!.offsetMm;
    const read = (string: number, fret: number): number => {
      const { nut, rise: own } = strings[string - 1]!;
      const extra = fault?.string === string && !isMended ? fault.cents : 0;
      const geometry = { scaleMm: model.scaleMm, setbackMm: setback(string) };
      const truth = nut + technician.nut + (own + extra + technician.rise) * riseShape(fret) + frettedCents(fret, geometry);
      return rounded(truth + random.normal(shopParameters.readingSd), technician.resolutionCents);
    };
    const errors = strings.map((_, at) => {
      const [cents12, cents17] = [read(at + 1, 12), read(at + 1, 17)];
      const note = isMended && pass === 1 && fault.string === at + 1 ? 'string replaced' : '';
      for (const [fret, cents] of [
        [12, cents12],
        [17, cents17],
      ] as const)
        rows.push([
          ...[instrument.name, model.model, at + 1, fret, instrument.nextPass, cents.toFixed(1)],
          ...[day, technician.technician, note],
        ]);
      const entry = standard.entries.find((one) => one.model === model.model && one.string === at + 1)!;
      const [own, usual] = [rise(cents12, cents17), rise(entry.target12, entry.target17)];
      const target = isAfter
        ? sharedCents(entry.share, usual + planted.reliability * (own - usual)).cents12
        : sharedCents(shareByFeel(technician.target, at + 1, model), own).cents12;
      return {
        error: cents12 - target - driftOf(technician.technician, day) - shortOf(model, day),
        content: isAfter ? entry.window : planted.contentCents,
      };
    });
    const moves = model.saddles.map((part) => {
      const own = part.map((string) => errors[string - 1]!);
      const error = own.reduce((sum, one) => sum + one.error, 0) / own.length;
      return Math.abs(error) > Math.max(...own.map(({ content }) => content)) ? -error : 0;
    });
    const isDone = pass + 1 === mostPasses || (pass > 0 && moves.every((move) => move === 0));
    if (isDone && hasNeck)
      for (const at of strings.keys())
        for (const fret of neckFrets.filter((one) => one !== 12 && one !== 17))
          rows.push([
            ...[instrument.name, model.model, at + 1, fret, instrument.nextPass, read(at + 1, fret).toFixed(1)],
            ...[day, technician.technician, ''],
          ]);
    instrument.nextPass++;
    if (isDone) return rows;
    moves.forEach((cents, part) => {
      if (cents === 0) return;
      const geometry = { scaleMm: model.scaleMm, setbackMm: partMm[part]! };
      const gain = lowest + (highest - lowest) * random.uniform();
      partMm[part]! += gain * moveForCents(12, cents, geometry) + random.normal(shopParameters.moveSdMm);
    });
  }
}

/** Two technicians whose tuners show tenths read the strings of two instruments at two frets, twice each. */
function gaugeStudyRows(random: Random, cells: readonly CellTruth[]): Row[] {
  return [0, 1].flatMap((at) => {
    const instrument = drawInstrument(random, cells, 900 + at);
    return technicians
      .filter(({ resolutionCents }) => resolutionCents < 1)
      .flatMap(({ technician, nut, rise: hand, resolutionCents }) =>
        [0, 1].flatMap(() =>
          instrument.strings.flatMap((one, string) =>
            [12, 17].map((fret): Row => {
              const setbackMm = instrument.partMm[partOf(instrument.model, string + 1)]! + one.offsetMm;
              const saddle = frettedCents(fret, { scaleMm: instrument.model.scaleMm, setbackMm });
              const truth = one.nut + nut + (one.rise + hand) * riseShape(fret) + saddle;
              const cents = rounded(truth + random.normal(shopParameters.readingSd), resolutionCents);
              return [
                ...[instrument.name, instrument.model.model, string + 1, fret, 0, cents.toFixed(1)],
                ...['2026-07-06', technician, ''],
              ];
            }),
          ),
        ),
      );
  });
}

/** By how many cents a technician leaves saddles sharp of the target on a day. */
function driftOf(technician: string, day: string): number {
  const { drift } = planted;
  if (technician !== drift.technician) return 0;
  const [at, from, until] = [day, drift.from, drift.until].map((text) => Date.parse(text)) as [number, number, number];
  return drift.cents * Math.min(1, Math.max(0, (at - from) / (until - from)));
}

/** By how many cents a model's saddles end sharp of the target on a day. */
function shortOf({ model }: DemoModel, day: string): number {
  const { parts } = planted;
  return model === parts.model && day >= parts.from ? parts.cents : 0;
}

/** The share that each rule of thumb aims at; common practice, no source. */
function shareByFeel(target: (typeof technicians)[number]['target'], string: number, { tuning }: DemoModel): number {
  if (target === '12th exact') return 0;
  if (target === 'even split') return evenShare;
  return evenShare * (1 - (string - 1) / (tuning.length - 1));
}

function partOf({ saddles }: DemoModel, string: number): number {
  return saddles.findIndex((part) => part.includes(string));
}

function rounded(cents: number, step: number): number {
  return Math.round(cents / step) * step;
}
