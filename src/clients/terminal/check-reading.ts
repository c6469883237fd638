import type { LoggedReading } from '../../logs/append-log.ts';
import type { StandardModel } from '../../policy/standard.ts';
import type { BenchLine } from './bench-line.ts';
import { atString, mostFrets, mostStrings, nextFret, type Place } from './place.ts';

/** A line with a reading, as `readBenchLine` gives it. */
export type ReadingLine = Extract<BenchLine, { kind: 'reading' }>;

/** What a reading typed is checked against. */
export interface ReadingChecks {
  readonly place: Place;
  /** Readings of this instrument at this pass. */
  readonly here: readonly LoggedReading[];
  readonly spec: StandardModel | undefined;
  readonly reads: 'cents' | 'hz';
}

/** Which string and fret a line is about; or what was found and expected, where that is not sure enough to be saved. */
export type PlacedReading = { readonly place: Place; readonly fret: number } | { readonly fault: string };

/** Fills in string and fret from the prompt, and refuses what the model cannot have and what may mean two things. */
export function placeReading(line: ReadingLine, { place, here, spec, reads }: ReadingChecks): PlacedReading {
  const string = line.string ?? place.string;
  if (string === null) return { fault: 'which string? Type string, fret and reading, as in "3 12 +1.5".' };
  const most = spec?.strings ?? mostStrings;
  if (string < 1 || string > most) {
    const why = spec ? ` (${spec.model} has ${most} strings; 1 is the thinnest)` : '';
    return { fault: `found string ${string}, expected 1 to ${most}${why}.` };
  }
  const fret = line.fret ?? nextFret(here, string);
  if (fret === null)
    return { fault: `the 12th and 17th of string ${string} are read. To read the 12th again: "12 ${line.value}".` };
  const mostFret = spec?.frets ?? mostFrets;
  if (fret < 1 || fret > mostFret) {
    const why = fret === 0 ? '; for the open string type "open" and what it reads' : '';
    return { fault: `found fret ${fret}, expected 1 to ${mostFret}${why}.` };
  }
  const isBare = reads === 'cents' && !line.marked && line.value !== '0';
  if (isBare && line.fret === undefined)
    return {
      fault: `found "${line.value}" alone. For cents at fret ${fret} type +${line.value} or -${line.value}; else fret and cents, as in "12 ${line.value}".`,
    };
  if (isBare && line.string === undefined && ['12', '17'].includes(line.value) && fret <= most)
    return {
      fault: `found "${fret} ${line.value}": are the cents missing? For string ${fret}, fret ${line.value} type them after it; for ${line.value} cents at fret ${fret} type "${fret} +${line.value}".`,
    };
  return { place: atString(place, string), fret };
}
