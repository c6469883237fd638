import { decimal, readScore, shown, type ScoreHeader, type ScoreNote } from './musicxml-score.ts';
import { highestFret } from './usage.ts';

/** Notes that were not counted, for one reason. */
export interface SkippedNotes {
  readonly reason: SkipReason;
  readonly notes: number;
  /** Where the first of them stands, and what was found there. */
  readonly first: string;
}

/** Why a note is not counted, with the words that a person reads. */
export const skipReasons = {
  grace: 'grace notes, which have no duration of their own',
  cue: 'cue notes, which are not played',
  'no-tablature': 'notes without a string and a fret, as on a staff in standard notation',
  'half-tablature': 'notes with a string and no fret, or a fret and no string',
  'two-places': 'notes with two different strings or frets',
  string: 'notes on a string that is no whole number from 1',
  fret: `notes at a fret that is no whole number from 0 to ${highestFret}`,
  duration: 'notes without a duration above 0, or before any divisions',
  harmonic: 'harmonics, whose string is touched and not stopped at the fret',
  muted: 'notes with an x for a head, or unpitched ones: no pitch sounds',
} as const;
export type SkipReason = keyof typeof skipReasons;

/** What one or more parts of a score play, string by string. */
export interface Tablature {
  /** Quarter notes of sound by string, then by fret. */
  readonly usage: ReadonlyMap<number, ReadonlyMap<number, number>>;
  /** Notes of the parts looked at, rests aside: `notes = counted + skipped`. */
  readonly notes: number;
  readonly counted: number;
  /** Most first. */
  readonly skipped: readonly SkippedNotes[];
  /** Names of the parts that were counted. */
  readonly parts: readonly string[];
  /** Sentences on what the counts contain and what they leave out. */
  readonly remarks: readonly string[];
}

/**
 * Counts how long each string sounds at each fret in a MusicXML score, in quarter notes: `duration` over `divisions`.
 *
 * Tied notes add up; where the second of two tied notes has no tablature, it sounds where the first does. Every note of a
 * chord counts. Grace and cue notes count nothing, rests are no notes, and repeats are not played out: each note counts once,
 * as written. String 1 is the highest-pitched one in MusicXML, as here. A fret is taken as written, whatever `staff-tuning`,
 * `transpose` or `capo` say: tuning changes no fret, and frets above a capo are counted from it, which a remark says.
 *
 * @param file name for messages
 * @param part id or name of the one part to count; without it all parts that have tablature
 * @throws {RangeError} where the text is no MusicXML score, no note can be counted, or there is no such part
 * @see MusicXML 4.0, elements string, fret, duration, divisions, tie, grace, cue, harmonic
 */
export function readTablature(text: string, file: string, part?: string): Tablature {
  const notes: ScoreNote[] = [];
  const header = readScore(text, file, (note) => {
    if (note.place > 0) notes.push(note);
  });
  const names = new Map(
    [...new Set([...header.parts.keys(), ...notes.map((note) => note.part)])].map((id) => [
      id,
      header.parts.get(id) ?? id,
    ]),
  );
  const wanted = part === undefined ? undefined : partNamed(part, names, file);
  const looked = wanted === undefined ? notes : notes.filter((note) => note.part === wanted);

  const usage = new Map<number, Map<number, number>>();
  const skipped = new Map<SkipReason, { notes: number; first: string }>();
  const countedIn = new Set<string>();
  let counted = 0;
  const sounding: Sounding = new Map();
  for (const note of looked) {
    const played = judge(note, sounding);
    if ('reason' in played) {
      const first = `${file}:${note.line}, part ${shown(note.part)}, measure ${note.measure}, note ${note.place}`;
      const known = skipped.get(played.reason);
      if (known) known.notes++;
      else
        skipped.set(played.reason, {
          notes: 1,
          first: played.found === '' ? first : `${first}: ${shown(played.found)}`,
        });
      continue;
    }
    const { string, fret, quarters } = played;
    const frets = usage.get(string) ?? usage.set(string, new Map()).get(string)!;
    frets.set(fret, (frets.get(fret) ?? 0) + quarters);
    countedIn.add(note.part);
    counted++;
  }
  const reasons = [...skipped]
    .map(([reason, { notes: number, first }]): SkippedNotes => ({ reason, notes: number, first }))
    .sort((a, b) => b.notes - a.notes);
  if (counted === 0) throw new RangeError(nothingCounted(file, looked.length, reasons));
  const counting = [...names].filter(([id]) => countedIn.has(id));
  return {
    usage,
    notes: looked.length,
    counted,
    skipped: reasons,
    parts: counting.map(([, name]) => name),
    remarks: remarksOn(file, counting, header),
  };
}

function remarksOn(
  file: string,
  parts: readonly (readonly [id: string, name: string])[],
  header: ScoreHeader,
): string[] {
  const { jumps, capos } = header;
  const remarks: string[] = [];
  if (parts.length > 1) {
    const list = parts.map(([id, name]) => `${name} (${id})`).join(', ');
    remarks.push(`${parts.length} parts are counted together: ${list}.`);
  }
  if (jumps > 0) {
    const what = jumps === 1 ? '1 repeat or jump is' : `${jumps} repeats and jumps are`;
    remarks.push(`${what} not played out; each note counts once, as written.`);
  }
  for (const [id, name] of parts)
    if (capos.has(id))
      remarks.push(
        `part ${name} has a capo at fret ${capos.get(id)}; its frets are counted as written, from the capo.`,
      );
  return remarks.map((remark) => `${file}: ${remark}`);
}

function partNamed(wanted: string, names: ReadonlyMap<string, string>, file: string): string {
  if (names.has(wanted)) return wanted;
  const ids = [...names].filter(([, name]) => name.toLowerCase() === wanted.toLowerCase()).map(([id]) => id);
  if (ids.length === 1) return ids[0]!;
  const all = [...names].map(([id, name]) => `${id} (${name})`).join(', ');
  throw new RangeError(
    ids.length === 0
      ? `${file}: found no part "${wanted}", expected one of ${all}`
      : `${file}: found ${ids.length} parts named "${wanted}", expected the id of one: ${all}`,
  );
}

function nothingCounted(file: string, notes: number, skipped: readonly SkippedNotes[]): string {
  if (notes === 0) return `${file}: found no note, expected a score with tablature. Export the part that has it`;
  const [most] = skipped;
  const all = notes === 1 ? 'the only note was' : `all ${notes} notes were`;
  const kinds = skipped.map((each) => `${skipReasons[each.reason]} (${each.notes})`).join('; ');
  return (
    `${file}: ${all} skipped: ${kinds}. The first is at ${most!.first}. Expected notes with <string> and <fret> ` +
    'in <technical>: export the score with its tablature staff'
  );
}

/** Where a note is played, as the score writes it. */
interface Place {
  readonly string: string;
  readonly fret: string;
}

/** Places of the notes that are tied to the next one, by part, pitch, voice and staff. */
type Sounding = Map<string, Place[]>;

/** Where a note sounds whose tie ends: at its own place, else where the one note tied to it does; undefined where two could be. */
function tiedPlace(sounding: Sounding, key: string, own: Place | undefined): Place | undefined {
  const open = sounding.get(key) ?? [];
  const at = own ? open.findIndex(({ string, fret }) => string === own.string && fret === own.fret) : 0;
  const place = own ?? (open.length === 1 ? open[0] : undefined);
  if (place && at >= 0) open.splice(at, 1);
  return place;
}

type Judged =
  | { readonly string: number; readonly fret: number; readonly quarters: number }
  | { readonly reason: SkipReason; readonly found: string };

function judge({ elements, divisions, part }: ScoreNote, sounding: Sounding): Judged {
  const skip = (reason: SkipReason, found = ''): Judged => ({ reason, found });
  const different = (path: string): string[] => [...new Set(elements.get(path) ?? [])];
  const first = (path: string): string => elements.get(path)?.[0] ?? '';
  if (elements.has('grace')) return skip('grace');
  if (elements.has('cue')) return skip('cue');
  const strings = different('notations/technical/string');
  const frets = different('notations/technical/fret');
  if (strings.length > 1 || frets.length > 1)
    return skip('two-places', `found strings ${strings.join(', ')} and frets ${frets.join(', ')}`);
  const key = ['pitch/step', 'pitch/alter', 'pitch/octave', 'voice', 'staff'].map(first).join(' ');
  const own = strings.length === 1 && frets.length === 1 ? { string: strings[0]!, fret: frets[0]! } : undefined;
  const bare = strings.length === 0 && frets.length === 0;
  const tied = `${part} ${key}`;
  const place = elements.has('tie stop') && (own || bare) ? tiedPlace(sounding, tied, own) : own;
  if (!place)
    return bare
      ? skip('no-tablature')
      : skip('half-tablature', `found ${strings.length ? `string ${strings[0]}` : `fret ${frets[0]}`} alone`);
  if (elements.has('tie start')) sounding.set(tied, [...(sounding.get(tied) ?? []), place]);
  const [string, fret] = [whole(place.string), whole(place.fret)];
  if (!(string >= 1)) return skip('string', `found string "${place.string}"`);
  if (!(fret <= highestFret)) return skip('fret', `found fret "${place.fret}"`);
  if (isTouched(elements)) return skip('harmonic');
  // An x on a tablature line is a muted string: common practice, no source.
  if (first('notehead') === 'x' || elements.has('unpitched')) return skip('muted');
  const duration = decimal(first('duration'));
  if (!(duration > 0)) return skip('duration', `found duration "${first('duration')}"`);
  if (divisions === undefined) return skip('duration', 'found no divisions before it');
  return { string, fret, quarters: duration / divisions };
}

/** A harmonic's string is stopped only where it is artificial and the note is the stopped one. */
function isTouched(elements: ScoreNote['elements']): boolean {
  const path = 'notations/technical/harmonic';
  if (!elements.has(path)) return false;
  return (
    ['touching-pitch', 'sounding-pitch'].some((kind) => elements.has(`${path}/${kind}`)) ||
    !elements.has(`${path}/artificial`)
  );
}

/** A whole number from 0 as XML Schema writes it, else NaN. */
function whole(text: string): number {
  return /^\+?\d+$/.test(text) ? Number(text) : NaN;
}
