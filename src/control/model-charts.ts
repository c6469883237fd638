import { median } from '../statistics/location-scale.ts';
import { controlChart, rangeSigma, type ChartValue, type ControlChart } from './control-chart.ts';

/** How many of a technician's instruments of other models, nearest in time, one of a model is held against, and how few will do. */
const nearest = 10;
export const fewestBeside = 4;

/**
 * Charts of the models, and the departures of those that depart by themselves: the one furthest beyond its limits is found first,
 * then the others are looked at again without it, and so on.
 */
export function modelCharts(
  dated: readonly ChartValue[],
  least: number,
): {
  readonly charts: readonly ControlChart[];
  /** By name, the stretches of time in which those that depart by themselves do so. */
  readonly departing: ReadonlyMap<string, readonly { readonly fromAt: number; readonly toAt: number }[]>;
} {
  const models = [...byName(dated, ({ model }) => model).keys()];
  const aside = new Set<string>();
  for (;;) {
    const beside = byName(besideTechnician(dated, aside), ({ model }) => model);
    const sigma = { shop: sigmaOf(beside), least };
    const charts = models.map((name) => controlChart({ kind: 'model', name }, beside.get(name) ?? [], sigma));
    const [worst] = charts
      .filter(({ name, departures }) => departures.length > 0 && !aside.has(name))
      .sort((a, b) => beyond(b) - beyond(a));
    // Two models at least must be left to hold others against.
    if (worst && models.length - aside.size > 2) aside.add(worst.name);
    else {
      const found = charts.filter(
        ({ name, departures }) => departures.length > 0 && (aside.has(name) || name === worst?.name),
      );
      return {
        // Of the last two models it cannot be told which departs from the other: the one further out is named.
        charts: charts.map((chart) => (found.includes(chart) ? chart : { ...chart, departures: [] })),
        departing: new Map(found.map((chart) => [chart.name, timesOf(chart)])),
      };
    }
  }
}

/** How far beyond its limit a chart's average was at its worst, as a ratio. */
function beyond({ points }: ControlChart): number {
  return Math.max(...points.map(({ average, high }) => Math.abs(average) / high));
}

/** Standard deviation from one value to the next within each name. */
export function sigmaOf(groups: ReadonlyMap<string, readonly ChartValue[]>): number {
  return rangeSigma([...groups.values()].map((values) => values.map(({ departure }) => departure)));
}

function timesOf({ points, departures }: ControlChart): { readonly fromAt: number; readonly toAt: number }[] {
  return departures.map(({ from, to }) => ({ fromAt: points[from]!.at, toAt: points[to]!.at }));
}

/** Values by a name, names in order. */
export function byName(
  values: readonly ChartValue[],
  nameOf: (value: ChartValue) => string,
): Map<string, ChartValue[]> {
  const groups = new Map<string, ChartValue[]>();
  for (const value of values) {
    const own = groups.get(nameOf(value));
    if (own) own.push(value);
    else groups.set(nameOf(value), [value]);
  }
  return new Map([...groups].sort(([a], [b]) => (a < b ? -1 : 1)));
}

/**
 * Each value less what the same technician left of other models at that time, by those nearest to it, those set aside not counted;
 * left out where there are too few.
 */
function besideTechnician(dated: readonly ChartValue[], aside: ReadonlySet<string>): ChartValue[] {
  const found = [...byName(dated, ({ technician }) => technician).values()].flatMap((own) =>
    own.flatMap((value, at) => {
      const others = neighbours(own, at, ({ model }) => model !== value.model && !aside.has(model));
      if (others.length < fewestBeside) return [];
      return [{ ...value, departure: value.departure - drawnTo(value.at, others) }];
    }),
  );
  return found.sort((a, b) => a.at - b.at);
}

/**
 * What some values come to at a time, along the line of their median slope (Theil 1950, Sen 1968; from memory): a hand that drifts
 * must not count against the models it set up last.
 */
function drawnTo(at: number, values: readonly ChartValue[]): number {
  const slopes = values.flatMap((one, place) =>
    values.slice(0, place).flatMap((other) => {
      const time = one.at - other.at;
      return time === 0 ? [] : [(one.departure - other.departure) / time];
    }),
  );
  const slope = slopes.length === 0 ? 0 : median(slopes);
  return median(values.map((one) => one.departure + slope * (at - one.at)));
}

/** The values nearest in time to the one at a place that are wanted, `nearest` at most; `values` stand in order of time. */
function neighbours(
  values: readonly ChartValue[],
  place: number,
  isWanted: (value: ChartValue) => boolean,
): ChartValue[] {
  const found: ChartValue[] = [];
  const { at } = values[place]!;
  for (let [before, after] = [place - 1, place + 1]; found.length < nearest;) {
    const [earlier, later] = [values[before], values[after]];
    if (!earlier && !later) break;
    const isEarlier = !later || (earlier !== undefined && at - earlier.at <= later.at - at);
    const next = isEarlier ? earlier! : later;
    if (isEarlier) before--;
    else after++;
    if (isWanted(next)) found.push(next);
  }
  return found;
}
