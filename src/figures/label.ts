/** Mean width of a character over the font's size: wide, so that estimates of room err on the safe side. */
const characterWidth = 0.62;

/** The number at an axis tick with its sign, as many decimals as it has: `+2.5`, `−5`, `0`. */
export function signedTick(value: number): string {
  return value > 0 ? `+${value}` : `${value}`.replace('-', '−');
}

/** Room that a text takes, in Latin characters: those of East Asian scripts and pictures count for 1.7. */
function lengthOf(text: string): number {
  return Array.from(text).reduce((sum, one) => sum + (one.codePointAt(0)! < 0x1100 ? 1 : 1.7), 0);
}

/** A name cut to the room of `longest` Latin characters, the last an ellipsis. */
export function shorten(name: string, longest: number): string {
  if (lengthOf(name) <= longest) return name;
  let kept = '';
  for (const character of name) {
    if (lengthOf(kept + character) > longest - 1) break;
    kept += character;
  }
  return `${kept.trimEnd()}…`;
}

/** Number of Latin characters that fit in a width in pixels, in bold as in plain type. */
export function charactersIn(widthPx: number, fontPx: number): number {
  return Math.floor(widthPx / (characterWidth * fontPx));
}

/** Breaks a text between words into lines with room for `longest` Latin characters; a longer word is shortened. */
export function wrap(text: string, longest: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(' ').map((one) => shorten(one, longest))) {
    const line = lines.at(-1);
    if (line !== undefined && lengthOf(`${line} ${word}`) <= longest) lines[lines.length - 1] = `${line} ${word}`;
    else lines.push(word);
  }
  return lines;
}

/** `1 string`, `6 strings`. */
export function counted(count: number, noun: string): string {
  return `${count.toLocaleString('en')} ${noun}${count === 1 ? '' : 's'}`;
}
