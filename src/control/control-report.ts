import type { ColumnTable } from 'arquero';
import type { HouseStandard } from '../policy/standard.ts';
import { median } from '../statistics/location-scale.ts';
import { adoption, type AdoptionOptions, type AdoptionReport } from './adoption.ts';
import { benchSight } from './bench-sight.ts';
import { fewestToJudge } from './control-chart.ts';
import type { ControlReport } from './control-text.ts';
import { gaugeOfLog } from './gauge-of-log.ts';
import { dayText } from './instant.ts';
import { leftInstruments, type LeftReadings } from './left-instruments.ts';
import { sampleSizes, wantedRegret, type Wanted } from './sample-size.ts';
import { shopControl, type ShopControl } from './shop-control.ts';

/** A usual long scale in millimetres, where the standard knows none (common practice, no source). */
const usualScaleMm = 648;

/**
 * Everything `upneck control` reports: the bench against the standard over time, what its readings can see, how many more
 * instruments each model needs, and what changed with the standard.
 *
 * How readings scatter is taken from a gauge study of the log where it holds one, hands included; else from the standard, for one
 * hand.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function controlReport(
  readings: ColumnTable,
  standard: HouseStandard,
  options: AdoptionOptions & { readonly wanted?: Wanted | undefined },
): ControlReport {
  const { wanted = wantedRegret } = options;
  const changed = adoption(readings, standard, options);
  const control = controlSince(leftInstruments(readings, standard), standard, changed);
  const gauge = gaugeOfLog(readings);
  const repeatability = gauge.study?.components.repeatability ?? null;
  const reproducibility = gauge.study?.components.reproducibility ?? null;
  const scales = standard.models.map((model) => model.scaleMm).sort((x, y) => x - y);
  // A scale that some model has: the middle one.
  const scaleMm = scales[(scales.length - 1) >> 1] ?? usualScaleMm;
  const sight = benchSight(
    median(standard.entries.map(({ share }) => share)),
    {
      readingSd:
        repeatability === null
          ? median(standard.entries.map((entry) => entry.readingSd))
          : Math.sqrt(repeatability.variance),
      // Repeats are written down as the tuner shows them: their scatter holds the rounding.
      stepCents: repeatability === null ? usualStep(readings) : 0,
      handSd: Math.sqrt(reproducibility?.variance ?? 0),
      repeats: 1,
    },
    scaleMm,
  );
  return {
    control,
    gauge,
    sight: { ...sight, scaleMm, handsCounted: reproducibility !== null },
    sizes: sampleSizes(standard, wanted),
    wanted,
    adoption: changed,
  };
}

/**
 * Nobody can follow a standard before it is taken up: the charts begin on that day, where enough was left since to judge the shop by.
 */
function controlSince(left: LeftReadings, standard: HouseStandard, { adoptedAt }: AdoptionReport): ShopControl {
  const instruments = left.instruments.filter(({ at }) => at !== null && at >= adoptedAt);
  const before = left.instruments.length - instruments.length;
  if (before === 0 || instruments.length < fewestToJudge) return shopControl(left, standard);
  const control = shopControl({ ...left, instruments }, standard);
  const note = `${before} ${before === 1 ? 'instrument' : 'instruments'} left before ${dayText(adoptedAt)}, or without a date, count in the comparison of before and after, and neither in the charts nor in their totals.`;
  return { ...control, notes: [note, ...control.notes] };
}

/** Median step of the tuners' displays, as far as the log states them; 0 where it does not. */
function usualStep(readings: ColumnTable): number {
  if (!readings.columnNames().includes('resolutionCents')) return 0;
  const steps = Array.from(readings.array('resolutionCents') as ArrayLike<number | null>).filter(
    (step): step is number => step !== null && step > 0,
  );
  return steps.length === 0 ? 0 : median(steps);
}
