import type { Finding } from './findings.ts';
import type { Log } from './read-log.ts';
import { explain } from './reject.ts';

/** What each kind of finding is, worded to stand before a colon. */
const findingTitle: Record<Finding['kind'], string> = {
  duplicate: 'the same reading twice',
  'two-models': 'an instrument under two models',
  'large-error': 'more than 50 cents off',
  'twelfth-without-seventeenth': 'a 12th fret without a 17th',
  'sign-slip': 'a saddle that answered the wrong way',
  'whole-numbers': 'whole cents throughout',
  'assumed-tuning': 'a tuning that was assumed',
  'unknown-model': 'a model that models.csv does not have',
};

/** Kinds that are about the instrument they are found at; the others about a model or a technician. */
const aboutInstruments: ReadonlySet<Finding['kind']> = new Set([
  'duplicate',
  'two-models',
  'large-error',
  'twelfth-without-seventeenth',
  'sign-slip',
]);

/** How many rejects of a rule, and findings of a kind, are told one by one. */
const told = 3;

/**
 * What was read, for a person: counts by file, rejects by rule and findings by kind, with the first few of each.
 *
 * @param width characters a line may have
 */
export function reportLog(log: Log, width = 80): string {
  return [
    ...counts(log, width),
    ...notRead(log, width),
    ...rejects(log, width),
    ...findings(log, width),
    ...verdict(log),
  ]
    .join('\n')
    .concat('\n');
}

function counts({ files, totals }: Log, width: number): string[] {
  const columns = ['rows', 'readings', 'rejects'] as const;
  const widths = columns.map((name) => Math.max(name.length, count(totals[name]).length) + 2);
  const left = width - widths.reduce((sum, each) => sum + each, 0);
  const first = Math.min(left, Math.max(12, ...files.map(({ path }) => path.length)));
  const line = (name: string, cells: readonly string[]): string =>
    fromTheRight(name, first).padEnd(first) + cells.map((cell, index) => cell.padStart(widths[index]!)).join('');
  const rule = '-'.repeat(first + widths.reduce((sum, each) => sum + each, 0));
  const shown = files.map((file) =>
    line(
      file.path,
      columns.map((name) => count(file[name])),
    ),
  );
  const total = line(
    files.length === 1 ? 'Total' : `${count(files.length)} files`,
    columns.map((name) => count(totals[name])),
  );
  return [line('File', columns), rule, ...shown, ...(files.length > 1 ? [rule, total] : [])];
}

function notRead({ files, models }: Log, width: number): string[] {
  const headers = new Set(files.flatMap(({ ignored }) => ignored));
  const lines: string[] = [];
  if (headers.size > 0) {
    const some = [...headers].slice(0, 8).map((header) => `"${header}"`);
    const more = headers.size > some.length ? ` and ${count(headers.size - some.length)} more` : '';
    lines.push(
      '',
      ...wrap(`Columns not read: ${some.join(', ')}${more}. A mapping file (--mapping) can name them.`, width, ''),
    );
  }
  if (models.length === 0)
    lines.push('', ...wrap('There was no models.csv: any model, 12 strings and 36 frets were allowed.', width, ''));
  return lines;
}

function rejects({ rejects: all }: Log, width: number): string[] {
  if (all.length === 0) return [];
  const lines = ['', `Refused: ${rows(all.length)}`];
  for (const [rule, some] of grouped(all, (reject) => reject.rule)) {
    lines.push(`  ${rule}: ${rows(some.length)}`);
    for (const reject of some.slice(0, told)) lines.push(...wrap(explain(reject), width, '    '));
    if (some.length > told) lines.push(`    and ${count(some.length - told)} more`);
  }
  return lines;
}

function findings({ findings: all }: Log, width: number): string[] {
  if (all.length === 0) return [];
  const lines = [
    '',
    ...wrap(`Read, but look at: ${count(all.length)} ${all.length === 1 ? 'finding' : 'findings'}`, width, ''),
  ];
  for (const [kind, some] of grouped(all, (finding) => finding.kind)) {
    lines.push(`  ${kind} (${findingTitle[kind]}): ${count(some.length)}`);
    for (const { file, line, instrument, string, message } of some.slice(0, told)) {
      const which = string === null ? `, instrument ${instrument}` : `, instrument ${instrument}, string ${string}`;
      lines.push(...wrap(`${file}:${line}${aboutInstruments.has(kind) ? which : ''}: ${message}`, width, '    '));
    }
    if (some.length > told) lines.push(`    and ${count(some.length - told)} more`);
  }
  return lines;
}

function verdict({ rejects: refused, findings: found, totals }: Log): string[] {
  if (totals.readings === 0) return [];
  if (refused.length > 0 || found.length > 0) return [];
  return ['', 'Every row was read, and nothing looks wrong.'];
}

/** Groups in the order of their size, the largest first. */
function grouped<T, K>(all: readonly T[], key: (each: T) => K): [K, T[]][] {
  const groups = new Map<K, T[]>();
  for (const each of all) {
    const group = groups.get(key(each));
    if (group) group.push(each);
    else groups.set(key(each), [each]);
  }
  return [...groups].sort((a, b) => b[1].length - a[1].length);
}

function count(number: number): string {
  return number.toLocaleString('en-GB');
}

function rows(number: number): string {
  return `${count(number)} ${number === 1 ? 'row' : 'rows'}`;
}

/** The end of a text that is too long: of a path the end tells more. */
function fromTheRight(text: string, width: number): string {
  return text.length > width ? `…${text.slice(text.length - width + 1)}` : text;
}

/** Lines of at most `width` characters that break between words, the second and later ones indented further. */
function wrap(text: string, width: number, indent: string): string[] {
  const lines: string[] = [];
  let line = indent;
  for (const word of text.split(' ')) {
    let rest = word;
    if (line.trim() !== '' && line.length + 1 + rest.length > width) {
      lines.push(line);
      line = `${indent}  `;
    } else if (line.trim() !== '') line += ' ';
    while (line.length + rest.length > width) {
      const room = width - line.length;
      lines.push(line + rest.slice(0, room));
      rest = rest.slice(room);
      line = `${indent}  `;
    }
    line += rest;
  }
  return [...lines, line];
}
