/** Builds scores from the elements that MusicXML 4.0 defines, for tests; what is left out is optional there. */

/** One `<note>`: what stands in it before its tablature, then its string and fret where it has them. */
export function note(inner: string, string?: number | string, fret?: number | string, technical = ''): string {
  const place = [
    technical,
    string === undefined ? '' : `<string>${string}</string>`,
    fret === undefined ? '' : `<fret>${fret}</fret>`,
  ].join('');
  return `<note>${inner}${place === '' ? '' : `<notations><technical>${place}</technical></notations>`}</note>`;
}

/** A pitch and a duration in divisions, as a note has them. */
export function pitched(step: string, octave: number, duration: number | string): string {
  return `<pitch><step>${step}</step><octave>${octave}</octave></pitch><duration>${duration}</duration>`;
}

export function divisions(perQuarter: number | string): string {
  return `<attributes><divisions>${perQuarter}</divisions></attributes>`;
}

/** A partwise score: for each part a name and the content of its measures, with the DOCTYPE that most files have. */
export function partwise(parts: Readonly<Record<string, readonly string[]>>): string {
  const names = Object.keys(parts);
  const list = names.map((name, at) => `<score-part id="P${at + 1}"><part-name>${name}</part-name></score-part>`);
  const body = names.map((name, at) => {
    const measures = parts[name]!.map((content, of) => `<measure number="${of + 1}">\n${content}\n</measure>`);
    return `<part id="P${at + 1}">\n${measures.join('\n')}\n</part>`;
  });
  return `<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" "http://www.musicxml.org/dtds/partwise.dtd">
<score-partwise version="4.0">
<part-list>${list.join('')}</part-list>
${body.join('\n')}
</score-partwise>
`;
}
