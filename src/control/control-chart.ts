import { changePoint } from '../statistics/charts/change-point.ts';
import { ewmaChart, type EwmaPoint, usualEwma } from '../statistics/charts/ewma.ts';
import { median } from '../statistics/location-scale.ts';

/** A chart of fewer instruments is drawn and not judged. */
export const fewestToJudge = 8;
/** From this many instruments on, a chart's limits come of its own scatter; below it, of the whole shop's. */
export const enoughForSigma = 20;

/** What a chart is drawn from: one value an instrument, in order of time. */
export interface ChartValue {
  readonly instrument: string;
  readonly model: string;
  readonly technician: string;
  readonly at: number;
  /** In cents, 0 on the standard, positive sharp. */
  readonly departure: number;
}

/** One instrument on a chart: its value, the moving average after it with its limits, and whether it stands out alone. */
export interface ControlPoint extends ChartValue, EwmaPoint {
  readonly isOdd: boolean;
}

/** A stretch from the moving average's leaving a limit to its coming back to the standard. Places in the chart's points, from 0. */
export interface Departure {
  readonly side: 'sharp' | 'flat';
  /** The first instrument of it, as best can be told; the first at which the average was beyond a limit; the last beyond, or of all. */
  readonly from: number;
  readonly seen: number;
  readonly to: number;
  /** Mean of the values from first to last, in cents. */
  readonly size: number;
  /** Whether the average has not come back to the standard since. */
  readonly lasts: boolean;
}

export interface ControlChart {
  readonly kind: 'technician' | 'model' | 'shop';
  /** The technician or model; '' for the shop. */
  readonly name: string;
  readonly points: readonly ControlPoint[];
  readonly judged: boolean;
  /** Standard deviation from one instrument to the next, in cents, and where it comes from. */
  readonly sigma: number;
  readonly sigmaFrom: 'its own instruments' | 'the whole shop';
  readonly departures: readonly Departure[];
}

/** Median of the range of two standard normal values over its standard deviation's: `Phi^-1(3/4) sqrt(2)` = 0.954. */
const medianRange = 0.6744897501960817 * Math.SQRT2;

/**
 * Standard deviation from one value to the next by the median moving range over 0.954: a few wild instruments and a wandering mean
 * do not widen it.
 *
 * @param series values in order of time; ranges are taken within each series
 * @returns NaN where there are no two values in order
 */
export function medianRangeSigma(series: readonly (readonly number[])[]): number {
  const ranges = series.flatMap((values) => values.slice(1).map((value, at) => Math.abs(value - values[at]!)));
  return ranges.length === 0 ? NaN : median(ranges) / medianRange;
}

/**
 * Draws the chart of one technician, one model or the shop: a moving average about 0 with limits (`usualEwma`: a false alarm in
 * about 500 instruments), and single instruments that stand out from those before them.
 *
 * @param values in order of time
 * @param shopSigma sigma for a chart that has too few values for its own
 */
export function controlChart(
  { kind, name }: Pick<ControlChart, 'kind' | 'name'>,
  values: readonly ChartValue[],
  shopSigma: number,
): ControlChart {
  const departures = values.map(({ departure }) => departure);
  const own = values.length >= enoughForSigma;
  const sigma = own ? medianRangeSigma([departures]) : shopSigma;
  // Where all read alike there is no scatter to draw limits with.
  const judged = values.length >= fewestToJudge && sigma > 0;
  const averages = ewmaChart(departures, { ...usualEwma, target: 0, sigma: judged ? sigma : 0 });
  const odd = judged ? oddPlaces(departures, sigma) : new Set<number>();
  const points = values.map((value, at) => ({ ...value, ...averages[at]!, isOdd: odd.has(at) }));
  return {
    kind,
    name,
    points,
    judged,
    sigma,
    sigmaFrom: own ? 'its own instruments' : 'the whole shop',
    departures: judged ? stretches(points) : [],
  };
}

/**
 * Values further than three standard deviations of the forecast error from the moving average before them: the moving centre line
 * chart of Montgomery & Mastrangelo (1991), J. Qual. Technol. 23, 179-193 (from memory). The average starts at the median of the
 * first five, and a value that stands out moves it by three standard deviations at most.
 */
function oddPlaces(values: readonly number[], sigma: number): Set<number> {
  const reach = 3 * sigma * Math.sqrt(2 / (2 - usualEwma.lambda));
  let centre = median(values.slice(0, 5));
  const odd = new Set<number>();
  values.forEach((value, at) => {
    const error = value - centre;
    if (Math.abs(error) > reach) odd.add(at);
    centre += usualEwma.lambda * Math.max(-reach, Math.min(reach, error));
  });
  return odd;
}

/** Stretches of points whose average lies beyond the same limit; one ends when the average comes back to the standard. */
function stretches(points: readonly ControlPoint[]): Departure[] {
  const found: { side: Departure['side']; seen: number; to: number; open: boolean }[] = [];
  points.forEach(({ average, low, high }, at) => {
    const last = found.at(-1);
    if (last && (last.side === 'sharp' ? average <= 0 : average >= 0)) last.open = false;
    if (average <= high && average >= low) return;
    const side = average > high ? 'sharp' : 'flat';
    if (last?.open && last.side === side) last.to = at;
    else found.push({ side, seen: at, to: at, open: true });
  });
  let after = 0;
  return found.map(({ side, seen, open, ...stretch }) => {
    const to = open ? points.length - 1 : stretch.to;
    const before = points.slice(after, seen + 1).map(({ departure }) => departure);
    const from = after + changePoint(before, 0);
    after = to + 1;
    const within = points.slice(from, to + 1);
    const size = within.reduce((sum, { departure }) => sum + departure, 0) / within.length;
    return { side, from, seen, to, size, lasts: open };
  });
}
