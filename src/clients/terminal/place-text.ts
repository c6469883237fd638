import { signedCents } from '../../bench/move-words.ts';
import type { LoggedReading, RowCells } from '../../logs/append-log.ts';
import { wrapped } from '../../policy/plain-text.ts';
import type { StandardModel } from '../../policy/standard.ts';
import type { AppendedLog } from '../../sources/append-log.ts';
import type { Place } from './place.ts';
import { sentences } from './sentences.ts';

/** What is in the log, and how to begin. */
export function helloText(
  log: AppendedLog,
  { shown, reads }: { readonly shown: string; readonly reads: 'cents' | 'hz' },
): string {
  const all = log.readings();
  const count = `${all.length} ${all.length === 1 ? 'reading' : 'readings'}`;
  const holds =
    all.length === 0 ? `${shown} is a new log.` : `${shown} holds ${count}, the last of ${all.at(-1)!.instrument}.`;
  const example = reads === 'hz' ? '"3 12 392.4" (string, fret, Hz)' : '"3 12 +1.5" (string, fret, cents)';
  const rejects = log.rejects();
  const refused =
    rejects === 0
      ? ''
      : sentences(`${rejects} of its rows ${rejects === 1 ? 'is' : 'are'} refused; "upneck import" says why.`);
  return `${wrapped(`${holds} Type a reading as ${example}, "help" or "end".`, 78)}\n${refused}`;
}

/** What the next line is about: a fret that a saddle is set by, else the string to go to. */
export function promptText(
  string: number,
  { fret, next }: { readonly fret: number | null; readonly next: number | null },
): string {
  if (fret !== null) return `string ${string}, fret ${fret}> `;
  return `string ${string} read, ${next === null ? 'all read' : `Enter for ${next}`}> `;
}

/** Where the bench is, on a line of its own. */
export function placeText({ instrument, model, pass }: Place, spec: StandardModel | undefined): string {
  const what = spec ? `${spec.strings} strings` : 'an unknown model: strings and frets are not checked against it';
  return `${wrapped(`${instrument}, ${model} (${what}), pass ${pass}`, 78)}\n`;
}

/** What is read at a pass, a line a string: `string 3: 12 +1.5, 17 +4.0`; repeats one after another. */
export function soFarText(here: readonly LoggedReading[], pass: number): string {
  if (here.length === 0) return sentences(`Nothing is read at pass ${pass} yet.`);
  const distinct = (of: readonly number[]): number[] => [...new Set(of)].sort((a, b) => a - b);
  const lines = distinct(here.map((one) => one.string)).map((string) => {
    const own = here.filter((one) => one.string === string);
    const read = distinct(own.map((one) => one.fret)).map((fret) => {
      const cents = own.filter((one) => one.fret === fret).map((one) => signedCents(one.cents));
      return `${fret} ${cents.join(' and ')}`;
    });
    return `string ${string}: ${read.join(', ')}`;
  });
  return sentences(...lines);
}

/** That a reading was saved, as it will be read back, and whether it is a repeat. */
export function savedText(
  { string, fret, cents }: LoggedReading,
  { before, row }: { readonly before: readonly LoggedReading[]; readonly row: RowCells },
): string {
  const same = before.filter((one) => one.string === string && one.fret === fret).map((one) => one.cents);
  const mean = [...same, cents].reduce((sum, one) => sum + one, 0) / (same.length + 1);
  const earlier = same.map((one) => signedCents(one)).join(' and ');
  const again = same.length === 0 ? '' : `; a repeat, before ${earlier}, mean ${signedCents(mean)}`;
  const heard = row.hz === undefined ? '' : `${row.hz} Hz, `;
  const off = row.open_cents === undefined ? '' : ' (open string taken off)';
  return `string ${string}, fret ${fret}: ${heard}${signedCents(cents)} cents${off}, saved${again}`;
}
