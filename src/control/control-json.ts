import type { AdoptionReport, Differences, FaultCount } from './adoption.ts';
import type { ControlReport } from './control-text.ts';
import { signalWords } from './control-words.ts';
import { measures, type Measure } from './left-jobs.ts';

/** Thousandths of a cent and hundredths of a millimetre are finer than any reading. */
const round = (value: number): number | null => (Number.isFinite(value) ? Number(value.toFixed(3)) : null);
const iso = (instant: number): string => new Date(instant).toISOString();

/** `control.json`: the report as text, by the schema in `shared/control.schema.json`. Figures are rounded to a thousandth. */
export function controlJson({ control, gauge, sight, sizes, wanted, adoption }: ControlReport): string {
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
    adoption: adoptionJson(adoption),
    notes: control.notes,
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}

/** A measure's name in control.json. */
const nameOf: Readonly<Record<Measure, string>> = {
  at12: 'at_12',
  at17: 'at_17',
  audible: 'audible',
  neck: 'neck',
  off: 'off_standard',
  moves: 'moves',
};

function adoptionJson(report: AdoptionReport): object {
  const adopted = iso(report.adoptedAt);
  if ('reason' in report) return { adopted, reason: report.reason };
  const differences = (of: Differences): object =>
    Object.fromEntries(
      measures.map((measure) => {
        const found = of[measure];
        if (!found) return [nameOf[measure], null];
        return [
          nameOf[measure],
          {
            jobs_before: found.before,
            jobs_after: found.after,
            before: round(found.meanBefore),
            after: round(found.meanAfter),
            change: round(found.estimate),
            low: round(found.low),
            high: round(found.high),
          },
        ];
      }),
    );
  const { faults, paired } = report;
  const counted = ({ jobs, faults: found }: FaultCount): object => ({
    jobs,
    faults: found.map(({ job, fault, outcome, reason }) => ({
      instrument: job.instrument,
      model: fault.model,
      kind: fault.kind,
      strings: fault.strings,
      frets: fault.frets,
      outcome,
      reason,
      later_notes: job.laterNotes,
    })),
  });
  return {
    adopted,
    audible_cents: report.audibleCents,
    jobs_before: report.before.length,
    jobs_after: report.after.length,
    standard_leaves: { at_12: round(report.standardLeaves.at12), at_17: round(report.standardLeaves.at17) },
    differences: differences(report.differences),
    paired: paired && { instruments: paired.instruments, differences: differences(paired.differences) },
    groups: report.groups.map(({ kind, name, before, after, differences: of }) => ({
      ...{ kind, name, jobs_before: before, jobs_after: after },
      differences: differences(of),
    })),
    faults:
      faults.before === null
        ? { reason: faults.reason }
        : { before: counted(faults.before), after: counted(faults.after) },
    notes: report.notes,
  };
}
