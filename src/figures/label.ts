/** Mean width of a character over the font's size: wide, so that estimates of room err on the safe side. */
const characterWidth = 0.58;

/** Cents with their sign and one decimal: `+3.2`, `−0.4`, `0.0`. */
export function signedCents(cents: number): string {
  const size = Math.abs(cents).toFixed(1);
  return size === '0.0' ? size : `${cents < 0 ? '−' : '+'}${size}`;
}

/** The number at an axis tick with its sign, as many decimals as it has: `+2.5`, `−5`, `0`. */
export function signedTick(value: number): string {
  return value > 0 ? `+${value}` : `${value}`.replace('-', '−');
}

/** A name cut to at most `longest` characters, the last an ellipsis. */
export function shorten(name: string, longest: number): string {
  const characters = Array.from(name);
  return characters.length <= longest
    ? name
    : `${characters
        .slice(0, longest - 1)
        .join('')
        .trimEnd()}…`;
}

/** Number of characters that fit in a width in pixels. */
export function charactersIn(widthPx: number, fontPx: number): number {
  return Math.floor(widthPx / (characterWidth * fontPx));
}

/** Breaks a text between words into lines of at most `longest` characters; a longer word is shortened. */
export function wrap(text: string, longest: number): string[] {
  const lines: string[] = [];
  for (const word of text.split(' ').map((one) => shorten(one, longest))) {
    const line = lines.at(-1);
    if (line !== undefined && Array.from(line).length + 1 + Array.from(word).length <= longest)
      lines[lines.length - 1] = `${line} ${word}`;
    else lines.push(word);
  }
  return lines;
}

/** `1 string`, `6 strings`. */
export function counted(count: number, noun: string): string {
  return `${count.toLocaleString('en')} ${noun}${count === 1 ? '' : 's'}`;
}
