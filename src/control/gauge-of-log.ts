import type { ColumnTable } from 'arquero';
import { gaugeStudy, type GaugeStudy } from '../statistics/gauge-study.ts';

/** A gauge study of a log, or why there is none. */
export type LogGauge =
  | { readonly study: GaugeStudy; readonly fret: number }
  | { readonly study: null; readonly fret: number; readonly reason: string };

/**
 * Gauge study of the readings at one fret: the parts are strings of instruments at a pass, between which nothing moved; the
 * operators are technicians; repeats are readings of one string at one pass by one technician. A log of daily work has no repeats:
 * for a study, let two or more technicians each read the same strings twice or more, without moving a saddle between.
 *
 * Strings read once tell of the spread between strings only, and are left out.
 *
 * @param readings Arquero table of readings as `readLogs` gives it
 */
export function gaugeOfLog(readings: ColumnTable, fret = 12): LogGauge {
  const column = <T>(name: string): ArrayLike<T> => readings.array(name) as ArrayLike<T>;
  const [instruments, strings, passes] = [
    column<string>('instrument'),
    column<number>('string'),
    column<number>('pass'),
  ];
  const [frets, cents] = [column<number>('fret'), column<number>('cents')];
  const technicians = readings.columnNames().includes('technician') ? column<string | null>('technician') : null;
  const rows = new Map<string, { part: string; operator: string; value: number }[]>();
  for (let row = 0; row < cents.length; row++) {
    if (frets[row] !== fret) continue;
    const part = `${instruments[row]!}\n${strings[row]!}\n${passes[row]!}`;
    const reading = { part, operator: technicians?.[row] ?? '', value: cents[row]! };
    rows.set(part, [...(rows.get(part) ?? []), reading]);
  }
  const kept = [...rows.values()].filter((one) => one.length > 1).flat();
  const repeats = kept.length - new Set(kept.map(({ part, operator }) => `${part}\n${operator}`)).size;
  const parts = new Set(kept.map(({ part }) => part)).size;
  if (repeats < fewestRepeats || parts < 2)
    return {
      study: null,
      fret,
      reason: `${repeats === 0 ? 'no string was' : `only ${repeats} ${repeats === 1 ? 'string was' : 'strings were'}`} read twice at fret ${fret} by one technician at one pass. For a gauge study let two technicians or more each read the same strings twice or more and move no saddle between`,
    };
  return {
    fret,
    study: gaugeStudy({
      values: kept.map(({ value }) => value),
      operators: kept.map(({ operator }) => operator),
      parts: kept.map(({ part }) => part),
    }),
  };
}

/** With fewer, the scatter of a reading is known to within a factor of two at best. */
const fewestRepeats = 8;
