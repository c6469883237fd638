import type { ColumnTable } from 'arquero';
import type { HouseStandard } from '../policy/standard.ts';
import { median } from '../statistics/location-scale.ts';
import { adoption, type AdoptionOptions } from './adoption.ts';
import { benchSight } from './bench-sight.ts';
import type { ControlReport } from './control-text.ts';
import { gaugeOfLog } from './gauge-of-log.ts';
import { leftInstruments } from './left-instruments.ts';
import { sampleSizes, wantedRegret, type Wanted } from './sample-size.ts';
import { shopControl } from './shop-control.ts';

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
  const control = shopControl(leftInstruments(readings, standard), standard);
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
    adoption: adoption(readings, standard, options),
  };
}

/** Median step of the tuners' displays, as far as the log states them; 0 where it does not. */
function usualStep(readings: ColumnTable): number {
  if (!readings.columnNames().includes('resolutionCents')) return 0;
  const steps = Array.from(readings.array('resolutionCents') as ArrayLike<number | null>).filter(
    (step): step is number => step !== null && step > 0,
  );
  return steps.length === 0 ? 0 : median(steps);
}
