import type { HouseStandard } from '../policy/standard.ts';
import { median } from '../statistics/location-scale.ts';
import {
  controlChart,
  fewestToJudge,
  type ChartValue,
  type ControlChart,
  type ControlPoint,
  type Departure,
} from './control-chart.ts';
import type { LeftInstrument, LeftReadings } from './left-instruments.ts';
import { byName, fewestBeside, modelCharts, sigmaOf } from './model-charts.ts';

/** A lasting departure from the standard that a chart has seen, and who shares it. */
export interface ControlSignal extends Departure {
  /** `shop` where every technician that can be judged departs alike at one time. */
  readonly of: ControlChart['kind'];
  readonly name: string;
  readonly fromAt: number;
  readonly seenAt: number;
  readonly toAt: number;
  /** Whether there is another technician, or another model, to hold it against. */
  readonly compared: boolean;
}

/** How the bench keeps to the standard. */
export interface ShopControl {
  /** When the standard was drawn up, ISO 8601. */
  readonly standard: string;
  /** The shop, then technicians, then models, by name. */
  readonly charts: readonly ControlChart[];
  /** Shop first, then technicians, then models; each in order of time. */
  readonly signals: readonly ControlSignal[];
  /** Instruments that stand out from those the same technician left before. */
  readonly odd: readonly ControlPoint[];
  readonly instruments: readonly LeftInstrument[];
  /** Strings left within their window of the standard, and all of them. */
  readonly within: number;
  readonly strings: number;
  /** Mean window of the strings left, in cents. */
  readonly window: number;
  /** Sentences on what the charts leave out. */
  readonly notes: readonly string[];
}

/**
 * Charts of the instruments as left against the standard: of the shop and of each technician, and of each model after what the
 * same technician's other models show at that time is taken off, so that a hand does not count against a model.
 *
 * A model that departs by itself counts neither against the models held against it nor against those who set it up.
 */
export function shopControl(left: LeftReadings, standard: HouseStandard): ShopControl {
  const dated = left.instruments.flatMap((one): ChartValue[] => (one.at === null ? [] : [{ ...one, at: one.at }]));
  // Where a coarse tuner makes instruments read alike, readings scatter all the same.
  const least = left.instruments.length === 0 ? 0 : median(left.instruments.map(({ noise }) => noise));
  const { charts: ofModels, departing } = modelCharts(dated, least);
  const isOfHand = ({ model, at }: ChartValue): boolean =>
    !(departing.get(model) ?? []).some(({ fromAt, toAt }) => fromAt <= at && at <= toAt);
  const technicians = byName(dated.filter(isOfHand), ({ technician }) => technician);
  const sigma = { shop: sigmaOf(technicians), least };
  const ofTechnicians = [...technicians]
    .filter(([name]) => name !== '')
    .map(([name, values]) => controlChart({ kind: 'technician', name }, values, sigma));
  const shop = controlChart({ kind: 'shop', name: '' }, dated.filter(isOfHand), sigma);
  const charts = [shop, ...ofTechnicians, ...ofModels];
  const strings = left.instruments.flatMap((one) => one.strings);
  return {
    standard: standard.created,
    charts,
    signals: [...technicianSignals(ofTechnicians, shop), ...ofModels.flatMap((chart) => signalsOf(chart, true))],
    odd: (ofTechnicians.length > 0 ? ofTechnicians : [shop]).flatMap(({ points }) =>
      points.filter(({ isOdd }) => isOdd),
    ),
    instruments: left.instruments,
    within: strings.filter(({ departure, window }) => Math.abs(departure) <= window).length,
    strings: strings.length,
    window: strings.reduce((sum, { window }) => sum + window, 0) / strings.length,
    notes: [
      ...notesOf(left, dated, charts, standard),
      ...(departing.size === 0
        ? []
        : [
            `${[...departing.keys()].join(', ')}: while ${departing.size === 1 ? 'it departs' : 'they depart'}, left out of the charts of the shop and its technicians.`,
          ]),
    ],
  };
}

function signalsOf({ kind, name, points, departures }: ControlChart, compared: boolean): ControlSignal[] {
  return departures.map((departure) => ({
    ...departure,
    of: kind,
    name,
    fromAt: points[departure.from]!.at,
    seenAt: points[departure.seen]!.at,
    toAt: points[departure.to]!.at,
    compared,
  }));
}

/** Departures of technicians; those that all who can be judged share in side and time become one of the shop. */
function technicianSignals(charts: readonly ControlChart[], shop: ControlChart): ControlSignal[] {
  const judged = charts.filter((chart) => chart.judged);
  if (charts.length === 0) return signalsOf(shop, false);
  const signals = judged.map((chart) => signalsOf(chart, judged.length > 1));
  const shared = (one: ControlSignal): ControlSignal[] | null => {
    const alike = signals.map((of) =>
      of.find((other) => other.side === one.side && other.fromAt <= one.toAt && one.fromAt <= other.toAt),
    );
    return judged.length > 1 && alike.every((other) => other !== undefined) ? alike : null;
  };
  const all = signals.flat();
  const together = all.filter((one) => shared(one) !== null);
  const first = (['sharp', 'flat'] as const).flatMap((side): ControlSignal[] => {
    const alike = together.filter((one) => one.side === side);
    if (alike.length === 0) return [];
    const at = (of: (one: ControlSignal) => number, pick: (...values: number[]) => number): number =>
      pick(...alike.map(of));
    const size = alike.reduce((sum, one) => sum + one.size, 0) / alike.length;
    const lasts = alike.some((one) => one.lasts);
    const times = {
      fromAt: at((one) => one.fromAt, Math.min),
      seenAt: at((one) => one.seenAt, Math.min),
      toAt: at((one) => one.toAt, Math.max),
    };
    const place = (time: number): number => shop.points.findIndex((point) => point.at >= time);
    return [
      {
        ...times,
        side,
        of: 'shop',
        name: '',
        size,
        lasts,
        compared: true,
        from: place(times.fromAt),
        seen: place(times.seenAt),
        to: place(times.toAt),
      },
    ];
  });
  return [...first, ...all.filter((one) => !together.includes(one))];
}

function notesOf(
  { instruments, onlyReceived, unusable }: LeftReadings,
  dated: readonly ChartValue[],
  charts: readonly ControlChart[],
  { created }: HouseStandard,
): string[] {
  const counted = (count: number, what: string): string => `${count} ${what}${count === 1 ? '' : 's'}`;
  const notes: string[] = [];
  if (onlyReceived.length > 0)
    notes.push(
      `${counted(onlyReceived.length, 'instrument')} with readings as received only: how they were left is not in the log.`,
    );
  if (unusable.length > 0)
    notes.push(
      `${counted(unusable.length, 'instrument')} left out: the standard has no entry for them, or their last pass lacks the 12th or the 17th.`,
    );
  const undated = instruments.length - dated.length;
  if (undated > 0)
    notes.push(
      `${counted(undated, 'instrument')} without a date (measured_at): counted in the totals, not in the charts.`,
    );
  const alone = charts.filter(({ points }) => points.length === 0 && dated.length > 0).map(({ name }) => name);
  if (alone.length > 0)
    notes.push(
      `No chart of ${alone.join(', ')}: a model is held against ${fewestBeside} instruments or more of other models by the same technician.`,
    );
  const few = charts.filter(({ kind, judged, points }) => kind !== 'shop' && !judged && points.length > 0);
  if (few.length > 0)
    notes.push(
      `Too few to judge, under ${fewestToJudge} instruments: ${few.map(({ name, points }) => `${name} (${points.length})`).join(', ')}.`,
    );
  // What was left on that day counts as after it.
  const drawn = Date.parse(created.slice(0, 10));
  const before = dated.filter(({ at }) => at < drawn).length;
  if (before > 0)
    notes.push(
      `${before === dated.length ? 'All' : `${before} of ${dated.length}`} instruments were left before the standard was drawn up on ${created.slice(0, 10)}: there, the charts show how the bench worked without it.`,
    );
  return notes;
}
