import type { RowCells } from '../../logs/append-log.ts';
import type { ReadingLine } from './check-reading.ts';
import type { Place } from './place.ts';

/** The column for what the open string reads, beside a reading in cents or in hertz. */
export function openColumn(reads: 'cents' | 'hz'): 'open_cents' | 'open_hz' {
  return reads === 'hz' ? 'open_hz' : 'open_cents';
}

/** A reading as the row of a log; the time is in UTC, to the second. */
export function readingRow(
  place: Place,
  { fret, value, note }: Pick<ReadingLine, 'value' | 'note'> & { readonly fret: number },
  {
    reads,
    technician,
    now,
  }: { readonly reads: 'cents' | 'hz'; readonly technician: string | undefined; readonly now: () => Date },
): RowCells {
  return {
    instrument: place.instrument,
    model: place.model,
    string: String(place.string),
    fret: String(fret),
    pass: String(place.pass),
    [reads]: value,
    ...(place.open === undefined ? {} : { [openColumn(reads)]: place.open }),
    ...(place.saddle === undefined ? {} : { saddle_mm: place.saddle }),
    measured_at: `${now().toISOString().slice(0, 19)}Z`,
    ...(technician === undefined ? {} : { technician }),
    ...(note === '' ? {} : { note }),
  };
}
