import { riseShape } from '../../src/acoustics/frets.ts';
import { evenShare, rise, sharedCents } from '../../src/acoustics/rise.ts';
import { frettedCents, moveForCents } from '../../src/acoustics/saddle.ts';
import { stringsOf, type DemoModel } from './models.ts';
import { manyFretsOf, modelOf, type Fault } from './plan.ts';
import type { Random } from './random.ts';
import {
  technicians,
  type CellTruth,
  type InstrumentTruth,
  type ShopParameters,
  type TechnicianTruth,
} from './truth.ts';

/** One string of one instrument at one pass, as the tuner showed it. */
export interface Block {
  readonly instrument: InstrumentTruth;
  readonly string: number;
  readonly pass: number;
  /** Time of day, HH:MM. */
  readonly time: string;
  /** The setback as the technician read it, in mm. */
  readonly saddleMm: number;
  /** In order of frets; cents rounded to what the tuner shows, open string in tune. */
  readonly readings: readonly { readonly fret: number; readonly cents: number }[];
}

/** What the readings of a shop are made from. */
export interface Bench {
  readonly parameters: ShopParameters;
  readonly cells: readonly CellTruth[];
  readonly faults: readonly Fault[];
  /** The string whose first saddle move is written down with the wrong sign. */
  readonly slip: { readonly instrument: string; readonly string: number } | undefined;
}

/** Where one string's saddle really stands and what its keeper reads off, in mm. */
interface Saddle {
  setbackMm: number;
  readMm: number;
}

/**
 * Reads an instrument as often as it has passes, moving its saddles between them by the technician's rule of thumb.
 *
 * The reading at fret n is `nut + a + (rise + b + c) u(n)`, the technician's part, the saddle by exact geometry,
 * a planted fault if there is one, and noise (DESIGN sections 3 and 5).
 */
export function readInstrument(random: Random, instrument: InstrumentTruth, bench: Bench): Block[] {
  const model = modelOf(instrument);
  const technician = technicians.find((one) => one.technician === instrument.technician)!;
  const saddles = receivedSaddles(random, model, bench);
  const start = 8 * 60 + random.whole(8 * 60);
  const manyAgain = random.uniform() < 0.5;
  const blocks: Block[] = [];
  for (let pass = 0; pass < instrument.passes; pass++) {
    if (pass > 0) moveSaddles(random, saddles, { instrument, technician, bench, last: blocks.slice(-saddles.length) });
    const many = instrument.manyFrets && (pass === 0 || (pass === 1 && manyAgain));
    const minutes = start + 35 * pass;
    const time = [Math.floor(minutes / 60), minutes % 60].map((part) => String(part).padStart(2, '0')).join(':');
    for (const string of stringsOf(model)) {
      const { setbackMm, readMm } = saddles[string - 1]!;
      const readings = (many ? manyFretsOf(model) : [12, 17]).map((fret) => {
        const truth = trueCents(fret, { instrument, string, setbackMm, bench, technician });
        const sd = noiseSd(fret, { instrument, string, bench });
        return { fret, cents: rounded(truth + random.normal(sd), technician.resolutionCents) };
      });
      blocks.push({ instrument, string, pass, time, saddleMm: rounded(readMm, 0.05), readings });
    }
  }
  return blocks;
}

/** As received every saddle part stands wrong by its own error; strings over one part share it. */
function receivedSaddles(random: Random, model: DemoModel, { parameters, cells }: Bench): Saddle[] {
  const saddles: Saddle[] = [];
  for (const part of model.saddles) {
    const shared = random.normal(parameters.setbackSdMm);
    for (const string of part) {
      const setbackMm = shared + cellOf(cells, model.model, string).saddleOffsetMm;
      saddles[string - 1] = { setbackMm, readMm: setbackMm + random.normal(0.05) };
    }
  }
  return saddles;
}

/** Moves each saddle part to the technician's target as well as the hand can; moves under 0.3 mm are left. */
function moveSaddles(
  random: Random,
  saddles: readonly Saddle[],
  {
    instrument,
    technician,
    bench,
    last,
  }: { instrument: InstrumentTruth; technician: TechnicianTruth; bench: Bench; last: readonly Block[] },
): void {
  const model = modelOf(instrument);
  for (const part of model.saddles) {
    const wanted = part.map((string) => {
      const at = (fret: number): number => last[string - 1]!.readings.find((one) => one.fret === fret)!.cents;
      const target = sharedCents(shareByFeel(technician, string, model), rise(at(12), at(17))).cents12;
      const geometry = { scaleMm: model.scaleMm, setbackMm: saddles[string - 1]!.setbackMm };
      return moveForCents(12, target - at(12), geometry);
    });
    const slips = instrument.instrument === bench.slip?.instrument && part.includes(bench.slip.string);
    const mean = wanted.reduce((sum, move) => sum + move, 0) / wanted.length;
    const moveMm = slips ? -1 : mean + random.normal(bench.parameters.moveSdMm);
    if (Math.abs(moveMm) < 0.3) continue;
    for (const string of part) {
      saddles[string - 1]!.setbackMm += moveMm;
      saddles[string - 1]!.readMm += slips ? -moveMm : moveMm;
    }
  }
}

/** The share (DESIGN section 3) each rule of thumb aims at; common practice, no source. */
function shareByFeel({ target }: TechnicianTruth, string: number, model: DemoModel): number {
  if (target === '12th exact') return 0;
  if (target === 'even split') return evenShare;
  const half = Math.ceil(model.tuning.length / 2);
  return (evenShare * Math.max(0, half + 1 - string)) / half;
}

function trueCents(
  fret: number,
  {
    instrument,
    string,
    setbackMm,
    bench,
    technician,
  }: { instrument: InstrumentTruth; string: number; setbackMm: number; bench: Bench; technician: TechnicianTruth },
): number {
  const cell = cellOf(bench.cells, instrument.model, string);
  const nut = cell.nut + instrument.a[string - 1]! + technician.nut;
  const riseCents = cell.rise + instrument.b + instrument.c[string - 1]! + technician.rise;
  const saddle = frettedCents(fret, { scaleMm: modelOf(instrument).scaleMm, setbackMm });
  return nut + riseCents * riseShape(fret) + saddle + faultCents(fret, { instrument, string, bench });
}

interface Place {
  instrument: InstrumentTruth;
  string: number;
  bench: Bench;
}

function faultCents(fret: number, { instrument, string, bench }: Place): number {
  const fault = bench.faults.find((one) => one.instrument === instrument.instrument);
  if (!fault?.strings.includes(string) || fault.kind === 'poor-low-strings') return 0;
  if (fault.kind === 'one-fret') return fault.frets.includes(fret) ? fault.cents : 0;
  return fault.cents * riseShape(fret);
}

function noiseSd(fret: number, { instrument, string, bench }: Place): number {
  const fault = bench.faults.find((one) => one.instrument === instrument.instrument);
  const isPoor = fault?.kind === 'poor-low-strings' && fault.strings.includes(string) && fault.frets.includes(fret);
  return isPoor ? fault.cents : bench.parameters.readingSd;
}

function cellOf(cells: readonly CellTruth[], model: string, string: number): CellTruth {
  return cells.find((cell) => cell.model === model && cell.string === string)!;
}

/** Rounds to a multiple of the resolution; through whole multiples, so that 0.3 is 0.3. */
function rounded(value: number, resolution: number): number {
  return Math.round(value / resolution) / Math.round(1 / resolution);
}
