/** Words a line may begin with; the beginning of one is enough where no other begins so, `yes` and `no` aside. */
export const words = [
  'next',
  'string',
  'pass',
  'instrument',
  'open',
  'saddle',
  'list',
  'undo',
  'worksheet',
  'help',
  'end',
  'yes',
  'no',
] as const;
export type Word = (typeof words)[number];

/** What one line typed at the bench means. */
export type BenchLine =
  | { readonly kind: 'nothing' }
  | {
      readonly kind: 'reading';
      /** Undefined where it was not typed: then it is the one the prompt names. */
      readonly string: number | undefined;
      readonly fret: number | undefined;
      /** As typed, with a decimal point and a plain minus, without a plus. */
      readonly value: string;
      /** Whether a sign or a decimal mark was typed. */
      readonly marked: boolean;
      readonly note: string;
    }
  | {
      readonly kind: 'word';
      readonly word: Word;
      /** Whether the word was typed to its end and nothing after it. */
      readonly isAlone: boolean;
      readonly rest: string;
    }
  | { readonly kind: 'unclear'; readonly found: string; readonly expected: string };

const number = /^[+\-\u2212]?(?:\d+[.,]?\d*|[.,]\d+)$/;
const sign = /^[+\-\u2212]$/;
const wholeNumber = /^\d{1,2}$/;

/**
 * Reads one line: up to three numbers, `string fret cents`, `fret cents` or `cents`, and words after them as a note; or a
 * word with what goes with it.
 */
export function readBenchLine(line: string): BenchLine {
  const text = line.replaceAll('\t', ' ').trim();
  if (text === '') return { kind: 'nothing' };
  if (/\p{Cc}/u.test(text))
    return { kind: 'unclear', found: 'keys that are no text', expected: 'letters, digits and the backspace key' };
  const tokens = text.replace(/(^|\s)([+\-\u2212])\s+(?=[\d.,])/g, '$1$2').split(/\s+/);
  const first = tokens[0]!;
  if (first === '?') return { kind: 'word', word: 'help', isAlone: true, rest: '' };
  if (!/^[\d.,+\-\u2212]/.test(first)) return readWord(first, text);
  return readNumbers(tokens, text);
}

function readWord(first: string, text: string): BenchLine {
  const typed = first.toLowerCase();
  const found = { quit: 'end', exit: 'end', y: 'yes' }[typed] ?? typed;
  const exact = words.filter((word) => word === found);
  const begun = words.filter((word) => word.startsWith(found) && word !== 'yes' && word !== 'no');
  const [word, ...others] = exact.length > 0 ? exact : begun;
  const rest = text.slice(first.length).trim();
  if (word !== undefined && others.length === 0)
    return { kind: 'word', word, isAlone: exact.length > 0 && rest === '', rest };
  const choice = others.length > 0 ? [word, ...others].join(', ') : undefined;
  return {
    kind: 'unclear',
    found: `"${first}"`,
    expected: choice === undefined ? 'a reading such as "3 12 +1.5", or a word that "help" lists' : `one of ${choice}`,
  };
}

function readNumbers(tokens: readonly string[], text: string): BenchLine {
  const count = tokens.findIndex((token) => !number.test(token));
  const numbers = count < 0 ? tokens : tokens.slice(0, count);
  const unclear = (found: string, expected: string): BenchLine => ({ kind: 'unclear', found, expected });
  const broken =
    count >= 0 && /^[\d.,+\-\u2212]/.test(tokens[count]!) && numbers.length < 3 ? tokens[count] : undefined;
  if (numbers.length === 0 || (broken !== undefined && (sign.test(broken) || /^[\d.,+\-\u2212]+$/.test(broken))))
    return unclear(`"${broken ?? text}"`, 'numbers apart by spaces, such as "3 12 +1.5"');
  if (numbers.length > 3) return unclear(`${numbers.length} numbers`, 'string, fret and cents: "3 12 +1.5"');
  const [value, fret, string] = [...numbers].reverse() as [string, string | undefined, string | undefined];
  for (const [what, typed] of [
    ['string', string],
    ['fret', fret],
  ] as const)
    if (typed !== undefined && !wholeNumber.test(typed))
      return unclear(`"${typed}" for the ${what}`, `a whole number: string, fret, then the reading, as in "3 12 +1.5"`);
  return {
    kind: 'reading',
    string: string === undefined ? undefined : Number(string),
    fret: fret === undefined ? undefined : Number(fret),
    value: plainNumber(value),
    marked: !/^\d+$/.test(value),
    note: count < 0 ? '' : tokens.slice(count).join(' '),
  };
}

/** A number as typed in the form every log can be given: `-1.5`, without plus, with a digit before and after the point. */
export function plainNumber(typed: string): string {
  const text = typed.replace('\u2212', '-').replace('+', '').replace(',', '.').replace(/\.$/, '');
  return text.replace(/^(-?)\./, '$10.');
}

/** A number typed after a word; undefined where it is none. */
export function numberAfter(rest: string): string | undefined {
  const text = rest.replace(/^([+\-\u2212])\s+/, '$1');
  return number.test(text) ? plainNumber(text) : undefined;
}
