import { normalCdf } from '../statistics/distributions.ts';
import { changePoint } from '../statistics/charts/change-point.ts';
import { ewmaChart, type EwmaPoint } from '../statistics/charts/ewma.ts';
import { median } from '../statistics/location-scale.ts';

/** A chart of fewer instruments is drawn and not judged. */
export const fewestToJudge = 8;
/** From this many instruments on, a chart's limits come of its own scatter; below it, of the whole shop's. */
export const enoughForSigma = 30;

/**
 * How the charts are drawn. With a known scatter each alarms falsely once in 2 900 instruments, as a shop looks at ten charts or so
 * at a time; a shift of one standard deviation is seen after 15 instruments, of two after 4 (average run lengths by R's package
 * spc, held in test/real/spc.test.ts). With the scatter of 50 instruments it is about once in 1 100, by simulation.
 */
export const controlEwma = { lambda: 0.2, width: 3.5 } as const;
/** An instrument stands out beyond this many standard deviations: by chance once in 2 100. */
const oddWidth = 3.5;

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

/** Median of the size of the difference of two standard normal values: `Phi^-1(3/4) sqrt(2)` = 0.954. */
const medianRange = 0.6744897501960817 * Math.SQRT2;
/** Differences count up to this many of their standard deviations; mean square of a standard normal value so cut. */
const cut = 2.5;
const cutSquare =
  2 * normalCdf(cut) -
  1 -
  (2 * cut * Math.exp(-(cut ** 2) / 2)) / Math.sqrt(2 * Math.PI) +
  2 * cut ** 2 * normalCdf(-cut);

/**
 * Standard deviation from one value to the next, robust: from the median moving range over 0.954 to the root mean square of the
 * differences, each cut to 2.5 of their standard deviations (two steps of Huber's proposal 2 for a scale; Huber 1981, Robust
 * Statistics, section 5.2; from memory). A few wild instruments and a wandering mean do not widen it.
 *
 * @param series values in order of time; differences are taken within each series
 * @returns NaN where there are no two values in order
 */
export function rangeSigma(series: readonly (readonly number[])[]): number {
  const ranges = series.flatMap((values) => values.slice(1).map((value, at) => Math.abs(value - values[at]!)));
  if (ranges.length === 0) return NaN;
  let sigma = median(ranges) / medianRange;
  for (let step = 0; step < 2; step++) {
    const most = cut * sigma * Math.SQRT2;
    const squares = ranges.reduce((sum, range) => sum + Math.min(range, most) ** 2, 0) / ranges.length;
    sigma = Math.sqrt(squares / cutSquare / 2);
  }
  return sigma;
}

/**
 * Draws the chart of one technician, one model or the shop: a moving average about 0 with limits ({@link controlEwma}), and single instruments that stand out from those before them.
 *
 * @param values in order of time
 * @param sigma  `shop` for a chart that has too few values for its own; `least` where all read alike
 */
export function controlChart(
  { kind, name }: Pick<ControlChart, 'kind' | 'name'>,
  values: readonly ChartValue[],
  { shop, least }: { readonly shop: number; readonly least: number },
): ControlChart {
  const departures = values.map(({ departure }) => departure);
  const own = values.length >= enoughForSigma;
  const found = own ? rangeSigma([departures]) : shop;
  const sigma = found > least ? found : least;
  const judged = values.length >= fewestToJudge;
  const { odd, held } = judged ? standOut(departures, sigma) : { odd: new Set<number>(), held: departures };
  const averages = ewmaChart(held, { ...controlEwma, target: 0, sigma: judged ? sigma : 0 });
  const points = values.map((value, at) => ({ ...value, ...averages[at]!, isOdd: odd.has(at) }));
  return {
    kind,
    name,
    points,
    judged,
    sigma,
    sigmaFrom: own ? 'its own instruments' : 'the whole shop',
    departures: judged ? stretches(points, held) : [],
  };
}

/**
 * Values further than 3.5 standard deviations of the forecast error from the moving average before them: the moving centre line
 * chart of Montgomery & Mastrangelo (1991), J. Qual. Technol. 23, 179-193 (from memory). The average starts at the median of the
 * first five. A value that stands out is held at the limit for this average and for the chart's, so that one instrument alone
 * makes no lasting departure.
 */
function standOut(
  values: readonly number[],
  sigma: number,
): { readonly odd: ReadonlySet<number>; readonly held: number[] } {
  const reach = oddWidth * sigma * Math.sqrt(2 / (2 - controlEwma.lambda));
  let centre = median(values.slice(0, 5));
  const odd = new Set<number>();
  const held = values.map((value, at) => {
    const error = value - centre;
    if (Math.abs(error) > reach) odd.add(at);
    const kept = centre + Math.max(-reach, Math.min(reach, error));
    centre += controlEwma.lambda * (kept - centre);
    return kept;
  });
  return { odd, held };
}

/** Stretches of points whose average lies beyond the same limit; one ends when the average comes back to the standard. */
function stretches(points: readonly EwmaPoint[], held: readonly number[]): Departure[] {
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
    const from = after + changePoint(held.slice(after, seen + 1), 0);
    after = to + 1;
    const within = held.slice(from, to + 1);
    const size = within.reduce((sum, value) => sum + value, 0) / within.length;
    return { side, from, seen, to, size, lasts: open };
  });
}
