import type { ControlReport } from './control-text.ts';
import { signalWords } from './control-words.ts';

/** Thousandths of a cent and hundredths of a millimetre are finer than any reading. */
const round = (value: number): number | null => (Number.isFinite(value) ? Number(value.toFixed(3)) : null);
const iso = (instant: number): string => new Date(instant).toISOString();

/** `control.json`: the report as text, by the schema in `shared/control.schema.json`. Figures are rounded to a thousandth. */
export function controlJson({ control, gauge, sight, sizes, wanted }: ControlReport): string {
  const document = {
    version: 1,
    standard: control.standard,
    strings: control.strings,
    strings_within: control.within,
    window: round(control.window),
    signals: control.signals.map((signal) => ({
      of: signal.of,
      name: signal.name,
      side: signal.side,
      size: round(signal.size),
      from: iso(signal.fromAt),
      seen: iso(signal.seenAt),
      to: iso(signal.toAt),
      lasts: signal.lasts,
      ...signalWords(signal, control.window),
    })),
    odd: control.odd.map(({ instrument, model, technician, at, departure }) => ({
      ...{ instrument, model, technician },
      at: iso(at),
      departure: round(departure),
    })),
    charts: control.charts.map(({ kind, name, judged, sigma, sigmaFrom, points }) => ({
      ...{ kind, name, judged },
      sigma: round(sigma),
      sigma_from: sigmaFrom,
      points: points.map(({ instrument, technician, model, at, departure, average, low, high, isOdd }) => ({
        ...{ instrument, technician, model },
        at: iso(at),
        departure: round(departure),
        average: round(average),
        low: round(low),
        high: round(high),
        odd: isOdd,
      })),
    })),
    sight: {
      window: round(sight.windowCents),
      window_mm: round(sight.windowMm),
      seen: round(sight.seenCents),
      seen_mm: round(sight.seenMm),
      scale_mm: sight.scaleMm,
    },
    gauge:
      gauge.study === null
        ? { reason: gauge.reason }
        : {
            fret: gauge.fret,
            readings: gauge.study.readings,
            parts: gauge.study.parts,
            technicians: gauge.study.operators,
            standard_deviations: Object.fromEntries(
              Object.entries(gauge.study.components).map(([source, found]) => [
                source,
                found === null
                  ? null
                  : {
                      estimate: round(Math.sqrt(found.variance)),
                      low: round(Math.sqrt(found.low)),
                      high: round(Math.sqrt(found.high)),
                    },
              ]),
            ),
            step: gauge.study.resolution.step,
            distinct_categories: gauge.study.distinctCategories === null ? null : round(gauge.study.distinctCategories),
            notes: gauge.study.notes,
          },
    more_instruments: {
      wanted: 'halfWidth' in wanted ? { half_width: wanted.halfWidth } : { regret: wanted.regret },
      models: sizes.map(({ model, string, instruments, halfWidth, regret, more }) => ({
        ...{ model, string, instruments },
        half_width: round(halfWidth),
        regret: round(regret),
        more,
      })),
    },
    notes: control.notes,
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}
