import { kappa, riseShape, saddleLeverage } from '../acoustics/frets.ts';
import { groups } from 'd3-array';
import { invariant, type StringForecast } from './neck.ts';
import { modelParts, type NeckMap, type NeckMapOptions, type NoteError, noteError, openNote } from './neck-map.ts';
import { type FirstPass, firstPasses } from './received.ts';

/** What one string's readings tell of nut offset, rise and saddle term: mean and covariance, in cents. */
interface StringState {
  readonly mean: Vector;
  readonly covariance: Matrix;
}
type Vector = readonly [number, number, number];
type Matrix = readonly [Vector, Vector, Vector];

/**
 * One instrument at every string and fret: as received, and as the standard would leave it.
 *
 * A fret that was read shows its reading. Others are predicted from nut offset N, rise R and saddle term B in
 * `e(n) = N + R u(n) + B g(n)`: N and R are normal about the model's (see `forecastModel`), nothing is known of B beforehand, and
 * the readings of the first pass tell of all three. The saddle is then moved so that the 12th reads `-q t / kappa`, `t` being
 * the string's own rise so told, and every fret follows by its leverage. Matched at the 12th, that linear form is within
 * 0.03 cents of the exact geometry at the 17th for moves within 3 mm. Strings on one saddle make one move: the mean of
 * theirs.
 *
 * The instrument's own hand is not taken out: readings of a hand that presses hard stay as they were read.
 *
 * @throws {RangeError} when the log has no such instrument, or trend or standard do not hold its model
 */
export function instrumentNeckMap(instrument: string, options: NeckMapOptions): NeckMap {
  const { sums, spread } = options.trend;
  const index = sums.instruments.indexOf(instrument);
  if (index < 0)
    throw new RangeError(
      `Cannot map the neck of instrument "${instrument}": the log does not hold it; expected one such as ${sums.instruments.slice(0, 3).join(', ')}`,
    );
  const model = sums.models[sums.modelOfInstrument[index]!]!;
  const { frets, entries, forecasts, isNutKnown } = modelParts(model, options);
  const passes = firstPasses(sums, spread.reading).filter((pass) => pass.instrument === index);
  const strings = forecasts.flatMap((forecast) => {
    const pass = passes.find(({ string }) => string === forecast.string);
    if (!pass) return [];
    const state = stringState(forecast, pass);
    const before = notesOf(state, pass, frets);
    const { share, saddle } = entries.get(forecast.string)!;
    const [nut, rise, saddleTerm] = state.mean;
    const twelfth = pass.readings.find(({ fret }) => fret === 12)?.cents ?? nut + saddleTerm;
    return [{ string: forecast.string, saddle, before, wanted: (-share * invariant(nut, rise)) / kappa - twelfth }];
  });
  const moves = new Map(
    groups(strings, ({ saddle }) => saddle.join()).flatMap(([, own]) => {
      const move = own.reduce((sum, { wanted }) => sum + wanted, 0) / own.length;
      return own.map(({ string }): [number, number] => [string, move]);
    }),
  );
  return {
    model,
    instrument,
    before: 'as received',
    frets,
    strings: strings.map(({ string, before }) => ({
      string,
      before,
      after: before.map((note, fret) => shifted(note, moves.get(string)! * saddleLeverage(fret))),
    })),
    unread: forecasts.filter(({ string }) => !strings.some((one) => one.string === string)).map(({ string }) => string),
    isNutKnown,
  };
}

function shifted({ cents, low, high, isRead }: NoteError, by: number): NoteError {
  return { cents: cents + by, low: low + by, high: high + by, isRead };
}

/** Covariates of nut, rise and saddle at a fret. */
function covariates(fret: number): Vector {
  return [1, riseShape(fret), saddleLeverage(fret)];
}

function notesOf({ mean, covariance }: StringState, { readings }: FirstPass, frets: number): NoteError[] {
  const notes = [openNote];
  for (let fret = 1; fret <= frets; fret++) {
    const read = readings.find((one) => one.fret === fret);
    const x = covariates(fret);
    const variance = x.reduce((sum, a, i) => sum + x.reduce((part, b, j) => part + a * b * covariance[i]![j]!, 0), 0);
    notes.push(
      read
        ? noteError({ mean: read.cents, sd: Math.sqrt(read.variance) }, true)
        : noteError({ mean: dot(x, mean), sd: Math.sqrt(Math.max(0, variance)) }),
    );
  }
  return notes;
}

function dot(a: Vector, b: Vector): number {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

/**
 * Nut, rise and saddle given the readings, by one Kalman update a reading. Of the saddle nothing is known beforehand: its
 * variance of 10^6 cents squared is that of saddles a thousand cents off at the 12th.
 */
function stringState(forecast: StringForecast, { readings }: FirstPass): StringState {
  let mean: Vector = [forecast.nut, forecast.rise, 0];
  let covariance: Matrix = [
    [forecast.nutVariance, forecast.covariance, 0],
    [forecast.covariance, forecast.riseVariance, 0],
    [0, 0, 1e6],
  ];
  for (const { fret, cents, variance } of readings) {
    const x = covariates(fret);
    const along: Vector = [dot(covariance[0], x), dot(covariance[1], x), dot(covariance[2], x)];
    const total = dot(x, along) + variance;
    const surprise = cents - dot(x, mean);
    const gain: Vector = [along[0] / total, along[1] / total, along[2] / total];
    mean = [mean[0] + gain[0] * surprise, mean[1] + gain[1] * surprise, mean[2] + gain[2] * surprise];
    const old = covariance;
    const row = (i: 0 | 1 | 2): Vector => [
      old[i][0] - gain[i] * along[0],
      old[i][1] - gain[i] * along[1],
      old[i][2] - gain[i] * along[2],
    ];
    covariance = [row(0), row(1), row(2)];
  }
  return { mean, covariance };
}
