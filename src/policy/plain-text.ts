const graphemes = new Intl.Segmenter('en', { granularity: 'grapheme' });
/** Writing and pictures that take two columns of a terminal (Unicode Standard Annex 11, the wide and fullwidth classes, in the main). */
const wide =
  /[\p{Script=Han}\p{Script=Hiragana}\p{Script=Katakana}\p{Script=Hangul}\p{Emoji_Presentation}\u3000-\u303f\uff01-\uff60]|\ufe0f/u;
/** Control characters, line breaks, and marks that turn the direction of what follows. */
const unprintable = /[\p{Cc}\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]+/gu;

/** Text on one line: line breaks and control characters, which would break a table or drive a terminal, become a space. */
export function oneLine(text: string): string {
  return text.replace(unprintable, ' ');
}

/** Columns of a terminal that one grapheme takes. */
function columnsOf(grapheme: string): number {
  return wide.test(grapheme) ? 2 : 1;
}

/** Pieces of a text of at most `width` columns each; no grapheme is cut. */
function cut(text: string, width: number): { readonly text: string; readonly columns: number }[] {
  const pieces: { text: string; columns: number }[] = [];
  let piece = { text: '', columns: 0 };
  for (const { segment } of graphemes.segment(text)) {
    const columns = columnsOf(segment);
    if (piece.text !== '' && piece.columns + columns > width) {
      pieces.push(piece);
      piece = { text: '', columns: 0 };
    }
    piece = { text: piece.text + segment, columns: piece.columns + columns };
  }
  return [...pieces, piece];
}

/** A name on one line and in exactly `width` columns: padded, or cut short with an ellipsis. */
export function fitted(name: string, width: number): string {
  const [whole, ...more] = cut(oneLine(name), width);
  if (more.length === 0) return whole!.text + ' '.repeat(width - whole!.columns);
  const [start] = cut(oneLine(name), width - 1);
  return `${start!.text}…${' '.repeat(width - 1 - start!.columns)}`;
}

/** Breaks a sentence at spaces, and words longer than a line anywhere; lines after the first are indented by two. */
export function wrapped(text: string, width: number): string {
  const lines: string[] = [];
  let [line, columns] = ['', 0];
  for (const word of oneLine(text).split(' '))
    for (const piece of cut(word, width - 2)) {
      if (line !== '' && columns + 1 + piece.columns > width) {
        lines.push(line);
        [line, columns] = [`  ${piece.text}`, 2 + piece.columns];
      } else if (line === '') [line, columns] = [piece.text, piece.columns];
      else [line, columns] = [`${line} ${piece.text}`, columns + 1 + piece.columns];
    }
  return [...lines, line].join('\n');
}
