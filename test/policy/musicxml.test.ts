import fc from 'fast-check';
import { expect, test } from 'vitest';
import { readTablature } from '../../src/policy/musicxml.ts';
import { divisions, note, partwise, pitched } from './musicxml-examples.ts';

/** Quarter notes as `string/fret: quarters`, in order. */
function counts(text: string, part?: string): Record<string, number> {
  const { usage } = readTablature(text, 'song.musicxml', part);
  return Object.fromEntries(
    [...usage].flatMap(([string, frets]) => [...frets].map(([fret, quarters]) => [`${string}/${fret}`, quarters])),
  );
}

// W3C Music Notation Community Group, MusicXML tutorial, "Tablature" (w3c.github.io/musicxml/tutorial/tablature; W3C Community
// Final Specification Agreement): one measure of 4/4 at 2 divisions, in a part in standard notation and again in a part "Guitar
// [TAB]": C D Eb D C on string 3 at frets 5 7 8 7 5, with durations 2 2 1 1 2. By hand, in quarter notes:
// fret 5: (2 + 2) / 2 = 2; fret 7: (2 + 1) / 2 = 1.5; fret 8: 1 / 2 = 0.5.
test('readTablature counts the measure of the MusicXML tutorial on tablature', () => {
  const played = [
    ['C', 2, 5],
    ['D', 2, 7],
    ['E', 1, 8],
    ['D', 1, 7],
    ['C', 2, 5],
  ] as const;
  const text = partwise({
    Guitar: [divisions(2) + played.map(([step, duration]) => note(pitched(step, 5, duration))).join('')],
    'Guitar [TAB]': [
      divisions(2) +
        played.map(([step, duration, fret]) => note(pitched(step, 4, duration), 3, fret, '<hammer-on/>')).join(''),
    ],
  });
  expect(counts(text)).toEqual({ '3/5': 2, '3/7': 1.5, '3/8': 0.5 });
  expect(readTablature(text, 'song.musicxml')).toMatchObject({
    notes: 10,
    counted: 5,
    skipped: [{ reason: 'no-tablature', notes: 5 }],
    parts: ['Guitar [TAB]'],
    remarks: [],
  });
});

// MusicXML 4.0, element divisions: "if duration = 1 and divisions = 2, this is an eighth note duration", half a quarter note.
test('readTablature takes a duration of 1 at 2 divisions as an eighth note', () => {
  expect(counts(partwise({ A: [divisions(2) + note(pitched('E', 4, 1), 1, 12)] }))).toEqual({ '1/12': 0.5 });
});

// MusicXML 4.0: a chord note sounds with the one before and has a duration of its own; a grace note has none; a cue note has
// one and is not played; a rest is no note. By hand at 4 divisions: string 2 fret 1 and string 3 fret 2 a half note each (8 / 4),
// then at 6 divisions a triplet eighth (2 / 6) on string 2 fret 1.
test('readTablature counts every note of a chord, no grace note, cue note or rest, and follows new divisions', () => {
  const text = partwise({
    A: [
      divisions(4) +
        note(`<grace/><pitch><step>B</step><octave>3</octave></pitch>`, 2, 0) +
        note(pitched('C', 4, 8), 2, 1) +
        note(`<chord/>${pitched('A', 3, 8)}`, 3, 2) +
        note('<rest/><duration>4</duration>') +
        note(`<cue/>${pitched('C', 4, 4)}`, 2, 1),
      divisions(6) + note(pitched('C', 4, 2), 2, 1),
    ],
  });
  const found = readTablature(text, 'song.musicxml');
  expect(found.usage.get(2)!.get(1)).toBeCloseTo(2 + 1 / 3, 12);
  expect(found.usage.get(3)!.get(2)).toBe(2);
  expect(found).toMatchObject({
    notes: 5,
    counted: 3,
    skipped: [
      { reason: 'grace', notes: 1 },
      { reason: 'cue', notes: 1 },
    ],
  });
});

// MusicXML 4.0, element tie: a tie begins or ends with this note. By hand at 1 division: 4 + 4 + 2 = 10 quarter notes on string
// 1 fret 7; the second and third note have no tablature of their own.
test('readTablature lets a tied note without tablature sound where the note before it does', () => {
  const tie = (type: string): string => `<tie type="${type}"/>`;
  const text = partwise({
    A: [
      divisions(1) + note(pitched('B', 4, 4) + tie('start'), 1, 7),
      note(pitched('B', 4, 4) + tie('stop') + tie('start')),
      note(pitched('B', 4, 2) + tie('stop')),
      // The tie has ended: where this note is played nobody says.
      note(pitched('B', 4, 4) + tie('stop')),
    ],
  });
  expect(counts(text)).toEqual({ '1/7': 10 });
  expect(readTablature(text, 's')).toMatchObject({ counted: 3, skipped: [{ reason: 'no-tablature', notes: 1 }] });
});

test('readTablature does not guess which of two tied notes of one pitch goes on', () => {
  const start = '<tie type="start"/>';
  const text = partwise({
    A: [
      divisions(1) +
        note(pitched('E', 4, 1) + start, 1, 0) +
        note(`<chord/>${pitched('E', 4, 1)}${start}`, 2, 5) +
        note(`${pitched('E', 4, 1)}<tie type="stop"/>`),
    ],
  });
  expect(readTablature(text, 's')).toMatchObject({ counted: 2, skipped: [{ reason: 'no-tablature', notes: 1 }] });
});

// MusicXML 4.0, element score-timewise: measures hold parts, where a partwise score's parts hold measures.
test('readTablature counts a timewise score as its partwise twin, each part by its own divisions', () => {
  const [a1, a2] = [divisions(2) + note(pitched('E', 4, 1), 1, 12), note(pitched('E', 4, 3), 1, 14)];
  const [b1, b2] = [divisions(8) + note(pitched('A', 2, 8), 5, 0), note(pitched('A', 2, 4), 5, 2)];
  const timewise = `<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>A</part-name></score-part>
<score-part id="P2"><part-name>B</part-name></score-part></part-list>
<measure number="1"><part id="P1">${a1}</part><part id="P2">${b1}</part></measure>
<measure number="2"><part id="P1">${a2}</part><part id="P2">${b2}</part></measure></score-timewise>`;
  expect(counts(timewise)).toEqual(counts(partwise({ A: [a1, a2], B: [b1, b2] })));
  expect(counts(timewise)).toEqual({ '1/12': 0.5, '1/14': 1.5, '5/0': 1, '5/2': 0.5 });
});

// MusicXML 4.0, element harmonic: natural, or artificial at base, touching or sounding pitch. A natural harmonic's string and
// the touching finger are not stopped at the fret, so no intonation of that fret is heard.
test('readTablature leaves out harmonics but for the stopped note of an artificial one, and muted strings', () => {
  const harmonic = (kind: string): string => `<harmonic>${kind}</harmonic>`;
  const text = partwise({
    A: [
      divisions(1) +
        note(pitched('E', 5, 1), 1, 12, harmonic('<natural/>')) +
        note(pitched('E', 5, 1), 1, 12, harmonic('')) +
        note(pitched('B', 3, 1), 2, 5, harmonic('<artificial/><base-pitch/>')) +
        note(`<chord/>${pitched('E', 4, 1)}`, 2, 10, harmonic('<artificial/><touching-pitch/>')) +
        note(`${pitched('E', 2, 1)}<notehead>x</notehead>`, 6, 3) +
        note('<unpitched/><duration>1</duration>', 6, 3),
    ],
  });
  expect(counts(text)).toEqual({ '2/5': 1 });
  expect(readTablature(text, 's').skipped.map(({ reason, notes }) => [reason, notes])).toEqual([
    ['harmonic', 3],
    ['muted', 2],
  ]);
});

test('readTablature counts all parts with tablature together, or one by its id or name', () => {
  const text = partwise({
    Lead: [divisions(1) + note(pitched('E', 5, 1), 1, 12)],
    Bass: [divisions(1) + note(pitched('E', 1, 2), 4, 0) + note(pitched('G', 1, 2), 4, 3)],
  });
  expect(counts(text)).toEqual({ '1/12': 1, '4/0': 2, '4/3': 2 });
  expect(readTablature(text, 's').remarks).toEqual(['s: 2 parts are counted together: Lead (P1), Bass (P2).']);
  expect(counts(text, 'bass')).toEqual({ '4/0': 2, '4/3': 2 });
  expect(counts(text, 'P1')).toEqual({ '1/12': 1 });
  expect(() => readTablature(text, 's', 'Drums')).toThrow(
    's: found no part "Drums", expected one of P1 (Lead), P2 (Bass)',
  );
});

test('readTablature says that repeats are not played out and that frets are counted from a capo', () => {
  const capo = '<attributes><divisions>1</divisions><staff-details><capo>2</capo></staff-details></attributes>';
  const repeat = '<barline location="right"><repeat direction="backward"/></barline>';
  const text = partwise({ Guitar: [`${capo}${note(pitched('E', 5, 1), 1, 10)}${repeat}`] });
  expect(counts(text)).toEqual({ '1/10': 1 });
  expect(readTablature(text, 's').remarks).toEqual([
    's: 1 repeat or jump is not played out; each note counts once, as written.',
    's: part Guitar has a capo at fret 2; its frets are counted as written, from the capo.',
  ]);
});

test.each([
  ['a fret that is no number', note(pitched('E', 4, 1), 1, 'XII'), 'fret', 'found fret "XII"'],
  ['a fret beyond any neck', note(pitched('E', 4, 1), 1, 37), 'fret', 'found fret "37"'],
  ['a negative fret', note(pitched('E', 4, 1), 1, -1), 'fret', 'found fret "-1"'],
  ['string 0', note(pitched('E', 4, 1), 0, 1), 'string', 'found string "0"'],
  ['a string alone', note(pitched('E', 4, 1), 4), 'half-tablature', 'found string 4 alone'],
  ['a fret alone', note(pitched('E', 4, 1), undefined, 4), 'half-tablature', 'found fret 4 alone'],
  ['two frets', note(pitched('E', 4, 1), 1, 4, '<fret>5</fret>'), 'two-places', 'found strings 1 and frets 5, 4'],
  ['a duration of 0', note(pitched('E', 4, 0), 1, 4), 'duration', 'found duration "0"'],
  ['a duration in words', note(pitched('E', 4, 'long'), 1, 4), 'duration', 'found duration "long"'],
])('readTablature skips a note with %s, and says where it stands', (_name, odd, reason, found) => {
  const text = partwise({ A: [divisions(1) + note(pitched('E', 4, 1), 1, 5), odd] });
  expect(readTablature(text, 'song.musicxml')).toMatchObject({
    notes: 2,
    counted: 1,
    skipped: [{ reason, notes: 1, first: `song.musicxml:10, part P1, measure 2, note 1: ${found}` }],
  });
});

test('readTablature puts what a score says into messages on one line and cut short', () => {
  const odd = note(pitched('E', 4, 1), 1, `5\n${'\u202e'}${'9'.repeat(1000)}`);
  const { skipped } = readTablature(partwise({ A: [divisions(1) + note(pitched('E', 4, 1), 1, 5) + odd] }), 's');
  expect(skipped[0]!.first).toMatch(/^s:7, part P1, measure 1, note 2: found fret "5 9{1,60}…$/);
});

const plain = '<score-partwise><part id="P1"><measure number="1">';
const end = '</measure></part></score-partwise>';

test.each([
  [
    'text that breaks off',
    plain,
    's:1: not well-formed XML (unclosed tag: measure); expected a whole MusicXML score. Export it again from the program it was written in',
  ],
  [
    'tags that cross',
    `${plain}\n<note></measure>`,
    's:2: not well-formed XML (unexpected close tag); expected a whole MusicXML score. Export it again from the program it was written in',
  ],
  [
    'nothing',
    '',
    's:1: not well-formed XML (document must contain a root element); expected a whole MusicXML score. Export it again from the program it was written in',
  ],
  [
    'another kind of XML',
    '<?xml version="1.0"?>\n<html/>',
    's:2: found <html>, expected a MusicXML score, which begins with <score-partwise> or <score-timewise>. Export the score as MusicXML',
  ],
  [
    'an opus',
    '<opus/>',
    's:1: found <opus>, expected a MusicXML score, which begins with <score-partwise> or <score-timewise>. An opus only lists scores: give these',
  ],
  [
    'divisions of 0',
    `${plain}\n${divisions(0)}${end}`,
    's:2, part P1, measure 1: found "0" divisions of a quarter note, expected a number above 0. Export the score again, or mend this line',
  ],
  ['no note', plain + end, 's: found no note, expected a score with tablature. Export the part that has it'],
  [
    'notes without tablature',
    `${plain}${divisions(1)}\n${note(pitched('C', 4, 1))}${note(pitched('C', 4, 1))}${end}`,
    's: all 2 notes were skipped: notes without a string and a fret, as on a staff in standard notation (2). The first is at s:2, part P1, measure 1, note 1. Expected notes with <string> and <fret> in <technical>: export the score with its tablature staff',
  ],
  [
    'notes before any divisions',
    plain + note(pitched('C', 4, 1), 1, 5) + end,
    's: the only note was skipped: notes without a duration above 0, or before any divisions (1). The first is at s:1, part P1, measure 1, note 1: found no divisions before it. Expected notes with <string> and <fret> in <technical>: export the score with its tablature staff',
  ],
])('readTablature refuses %s in words', (_name, text, message) => {
  expect(() => readTablature(text, 's')).toThrow(new RangeError(message));
});

// The entities that multiply of the "billion laughs": https://en.wikipedia.org/wiki/Billion_laughs_attack, from memory.
test('readTablature expands no entity that a DOCTYPE declares', () => {
  const declared = ['<!ENTITY a "3">', ...Array.from({ length: 30 }, (_, at) => `<!ENTITY a${at} "&a;&a;&a;">`)];
  const text = `<!DOCTYPE score-partwise [${declared.join('')}]>\n${plain}${divisions('&a9;')}${end}`;
  expect(() => readTablature(text, 's')).toThrow('s:2: not well-formed XML (undefined entity)');
});

// Identities: notes in = counted + skipped, and no sound is lost or made: the counts sum to the durations of what was counted.
test('readTablature counts or skips every note, and its counts sum to the durations', () => {
  const anyNote = fc.record({
    duration: fc.integer({ min: 1, max: 64 }),
    string: fc.option(fc.integer({ min: 1, max: 8 }), { nil: undefined }),
    fret: fc.option(fc.integer({ min: 0, max: 40 }), { nil: undefined }),
    kind: fc.constantFrom('', '<grace/>', '<cue/>', '<chord/>'),
  });
  fc.assert(
    fc.property(fc.array(anyNote, { minLength: 1 }), fc.integer({ min: 1, max: 960 }), (notes, perQuarter) => {
      const elements = notes.map(({ duration, string, fret, kind }) =>
        note(kind + pitched('C', 4, duration), string, fret),
      );
      const text = partwise({ A: [divisions(perQuarter) + note(pitched('C', 4, 1), 1, 1) + elements.join('')] });
      const { usage, notes: all, counted, skipped } = readTablature(text, 's');
      expect(all).toBe(notes.length + 1);
      expect(counted + skipped.reduce((sum, each) => sum + each.notes, 0)).toBe(all);
      const played = notes.filter(
        ({ kind, string, fret }) =>
          kind !== '<grace/>' && kind !== '<cue/>' && string !== undefined && (fret ?? 99) <= 36,
      );
      const sum = [...usage.values()].flatMap((frets) => [...frets.values()]).reduce((a, b) => a + b, 0);
      expect(counted).toBe(played.length + 1);
      expect(sum * perQuarter).toBeCloseTo(
        played.reduce((a, { duration }) => a + duration, 1),
        6,
      );
    }),
  );
});
