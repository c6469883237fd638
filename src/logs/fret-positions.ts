import { impliedScaleMm, isInInches } from '../acoustics/placement.ts';
import { parseNumber } from './number.ts';
import { readSmallTable } from './small-table.ts';

/** One caliper reading. */
export interface FretPosition {
  /** The string it was taken under; null where the frets are the same under all strings. */
  readonly string: number | null;
  readonly fret: number;
  readonly nutToFretMm: number;
  /** Nominal distance from nut to saddle under this string; null where the file does not say. */
  readonly scaleMm: number | null;
  readonly line: number;
}

/** Readings, and one sentence with file, line, column, found and expected for every row that is refused. */
export interface FretPositions {
  readonly positions: readonly FretPosition[];
  readonly problems: readonly string[];
}

const mostFrets = 36;
const mostStrings = 12;
/** No fretted instrument is shorter than this or longer than that: outside, the unit is not what the header says. */
const plausibleScaleMm = { least: 100, most: 2500 };
const inch = 25.4;
/** Scale lengths in inches that are taken for such where nothing else tells: the shortest and the longest in use lie well within. */
const plausibleInches = { least: 4, most: 50 };

/** A row that may still be refused, with its cell for messages. */
interface Candidate extends FretPosition {
  readonly found: string;
}

type Complain = (line: number, column: string, found: string, wanted: string) => void;

/**
 * Reads measured fret positions: CSV with the columns `fret` and `nut_to_fret_mm` (or `nut_to_fret_in`, in inches), and if
 * known `string` (for fanned frets; empty for all strings) and `scale_mm`. Several rows of one fret are repeated readings.
 *
 * Refused are, beside cells that are no such numbers: inches in a millimetre column and the reverse, distances that were not
 * taken from the nut, a fret at or beyond the scale length, and the fewest rows without which positions increase from fret to fret.
 *
 * @param file name for messages
 */
export function readFretPositions(text: string, file: string): FretPositions {
  const table = readSmallTable(text, file);
  const problems = [...table.problems];
  const place = table.columns.findIndex((name) => name === 'nut_to_fret_mm' || name === 'nut_to_fret_in');
  if (!table.columns.includes('fret') || place < 0) {
    problems.push(
      `${file}:1: found columns "${table.headers.join(', ')}", expected fret and nut_to_fret_mm (or nut_to_fret_in)`,
    );
    return { positions: [], problems };
  }
  const quantities = table.columns.map((name) => name.replace(/_(mm|in)$/, ''));
  const twice = ['string', 'fret', 'nut_to_fret', 'scale'].filter(
    (one) => quantities.indexOf(one) !== quantities.lastIndexOf(one),
  );
  if (twice.length > 0) {
    problems.push(
      `${file}:1: found columns "${table.headers.join(', ')}", expected one alone for ${twice.join(' and ')}; leave the others out`,
    );
    return { positions: [], problems };
  }
  const header = (column: string): string => table.headers[table.columns.indexOf(column)]!;
  const complain: Complain = (line, column, found, wanted) => {
    problems.push(`${file}:${line}, column "${header(column)}": found "${found}", expected ${wanted}`);
  };
  const column = table.columns[place]!;
  const isInch = column === 'nut_to_fret_in';
  const candidates = table.rows.flatMap(({ line, cell }): Candidate[] => {
    const number = (name: string, fits: (value: number) => boolean, wanted: string): number => {
      const value = parseNumber(cell(name), 'either');
      if (fits(value)) return value;
      complain(line, name, cell(name), wanted);
      return NaN;
    };
    const whole = (most: number) => (value: number) => Number.isInteger(value) && value >= 1 && value <= most;
    const fret = number('fret', whole(mostFrets), `a whole fret number from 1 to ${mostFrets}`);
    const read = number(column, (value) => value > 0, 'the distance from the nut, a number above 0');
    const string =
      cell('string') === ''
        ? null
        : number(
            'string',
            whole(mostStrings),
            `a whole string number from 1, the thinnest, or nothing for all strings`,
          );
    const scaleMm =
      cell('scale_mm') === ''
        ? null
        : number(
            'scale_mm',
            (value) => value > plausibleScaleMm.least && value < plausibleScaleMm.most,
            `a scale length in millimetres, from ${plausibleScaleMm.least} to ${plausibleScaleMm.most}; multiply inches by 25.4`,
          );
    const nutToFretMm = isInch ? inch * read : read;
    return [fret, read, string, scaleMm].some(Number.isNaN)
      ? []
      : [{ string, fret, nutToFretMm, scaleMm, line, found: cell(column) }];
  });
  const strings = [...new Set(candidates.map(({ string }) => string))];
  const kept = strings.flatMap((string) => {
    const rows = candidates.filter((row) => row.string === string);
    if (fallsAlong(rows)) {
      for (const { line, found } of rows)
        complain(
          line,
          column,
          found,
          'distances from the nut, which grow; these fall from fret to fret, as distances between frets or to the saddle do',
        );
      return [];
    }
    const inUnit = refuseOtherUnit(rows, isInch, (line, found, wanted) => {
      complain(line, column, found, wanted);
    });
    const onScale = inUnit.filter(({ line, nutToFretMm, scaleMm, found }) => {
      const fits = scaleMm === null || nutToFretMm < scaleMm;
      if (!fits) complain(line, column, found, `less than the scale length of ${scaleMm} mm`);
      return fits;
    });
    return refuseOutOfOrder(onScale, (line, found, wanted) => {
      complain(line, column, found, wanted);
    });
  });
  const positions = kept
    .sort((a, b) => a.line - b.line)
    .map(({ string, fret, nutToFretMm, scaleMm, line }) => ({ string, fret, nutToFretMm, scaleMm, line }));
  return { positions, problems };
}

type Refuse = (line: number, found: string, wanted: string) => void;

/** Whether distances fall from most frets to the next one read: then they were not taken from the nut. */
function fallsAlong(rows: readonly Candidate[]): boolean {
  const sorted = [...new Map(rows.map((row) => [row.fret, row.nutToFretMm]))].sort(([a], [b]) => a - b);
  const falls = sorted.filter(([, mm], at) => at > 0 && mm < sorted[at - 1]![1]).length;
  return sorted.length > 3 && 2 * falls > sorted.length;
}

/** What millimetres that imply too short a scale length are instead, by the scale length given, or else by what is in use. */
function unitOfShort(implied: number, scaleMm: number | null): string {
  const { least, most } = plausibleInches;
  const factor = scaleMm !== null ? scaleMm / implied : implied > most ? 10 : implied >= least ? inch : NaN;
  const is = (wanted: number): boolean => factor > wanted / 1.5 && factor < wanted * 1.5;
  if (is(inch)) return 'so these are inches; name the column nut_to_fret_in or convert them';
  if (is(10)) return 'so these are centimetres; multiply them by 10';
  return 'so these are in another unit, or not from the nut; convert them';
}

/** Rows of one string but those in another unit than their column's, by the scale length that most of them imply. */
function refuseOtherUnit(rows: readonly Candidate[], isInch: boolean, refuse: Refuse): Candidate[] {
  if (rows.length === 0) return [];
  const implied = rows.map(({ fret, nutToFretMm }) => impliedScaleMm(fret, nutToFretMm)).sort((a, b) => a - b);
  const typical = implied[Math.floor(implied.length / 2)]!;
  const [unit, other, factor] = isInch
    ? (['inches', 'millimetres', 1 / inch] as const)
    : (['millimetres', 'inches', inch] as const);
  const isWhole = isInch ? typical > plausibleScaleMm.most : typical < plausibleScaleMm.least;
  const shown = isInch ? typical / inch : typical;
  return rows.filter(({ line, fret, nutToFretMm, scaleMm, found }) => {
    // As inches, a row read in millimetres stands 25.4 times too far: dividing twice lets one test serve for both.
    const asInches = isInch ? nutToFretMm / inch / inch : nutToFretMm;
    if (isWhole)
      refuse(
        line,
        found,
        `${unit}: most rows imply a scale length of ${shown.toFixed(1)} ${unit}, ${isInch ? 'so these are millimetres; name the column nut_to_fret_mm or convert them' : unitOfShort(typical, scaleMm)}`,
      );
    else if (isInInches(fret, asInches, scaleMm ?? typical))
      refuse(
        line,
        found,
        `${unit} as in the other rows: this is where the fret stands in ${other}; write ${(parseNumber(found, 'either') * factor).toFixed(isInch ? 3 : 2)}`,
      );
    else return true;
    return false;
  });
}

/** Rows of one string but those that stand against the order of most: whichever contradicts most others goes first. */
function refuseOutOfOrder(rows: readonly Candidate[], refuse: Refuse): Candidate[] {
  const kept = [...rows];
  const scales = rows.map(({ fret, nutToFretMm }) => impliedScaleMm(fret, nutToFretMm)).sort((a, b) => a - b);
  const typical = scales[Math.floor(scales.length / 2)]!;
  const oddity = ({ fret, nutToFretMm }: Candidate): number =>
    Math.abs(Math.log(impliedScaleMm(fret, nutToFretMm) / typical));
  const contradicts = (a: Candidate, b: Candidate): boolean =>
    (a.fret - b.fret) * (a.nutToFretMm - b.nutToFretMm) < 0 || (a.fret !== b.fret && a.nutToFretMm === b.nutToFretMm);
  const refused: Candidate[] = [];
  for (;;) {
    const counts = kept.map((row) => kept.filter((other) => contradicts(row, other)).length);
    const most = Math.max(0, ...counts);
    if (most === 0) break;
    const worst = kept.filter((_, at) => counts[at] === most).reduce((a, b) => (oddity(b) > oddity(a) ? b : a));
    kept.splice(kept.indexOf(worst), 1);
    refused.push(worst);
  }
  for (const row of refused.sort((a, b) => a.line - b.line)) {
    const below = kept.filter(({ fret }) => fret < row.fret).reduce(further, null);
    const above = kept.filter(({ fret }) => fret > row.fret).reduce(nearer, null);
    const limits = [
      ...(below ? [`more than ${below.found} (fret ${below.fret}, line ${below.line})`] : []),
      ...(above ? [`less than ${above.found} (fret ${above.fret}, line ${above.line})`] : []),
    ];
    refuse(row.line, row.found, `${limits.join(' and ')}, as frets come one after the other`);
  }
  return kept;
}

const further = (a: Candidate | null, b: Candidate): Candidate => (a && a.nutToFretMm >= b.nutToFretMm ? a : b);
const nearer = (a: Candidate | null, b: Candidate): Candidate => (a && a.nutToFretMm <= b.nutToFretMm ? a : b);
