import { wrapped } from '../../policy/plain-text.ts';

/** Sentences in at most 80 columns, each ended by a line break and set off from what is typed. */
export function sentences(...each: readonly string[]): string {
  return each
    .flatMap((sentence) => wrapped(sentence, 77).split('\n'))
    .map((line) => `  ${line}\n`)
    .join('');
}
