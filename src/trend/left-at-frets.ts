import { mean } from '../statistics/location-scale.ts';
import { riseShape, saddleLeverage } from '../acoustics/frets.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { halfWidth, twoSidedP } from '../statistics/distributions.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import { holm } from '../statistics/multiplicity.ts';
import { type CauseParts, causeTerm, fewestFrets, stringParts } from './decompose-model.ts';
import { technicianTerm } from './trend-model.ts';

/** What readings at one fret show beyond all causes, in cents; frets in order. */
export interface LeftAtFret {
  readonly fret: number;
  /** Mean over instruments (over strings where there is one), with its own 95 % interval. */
  readonly cents: number;
  readonly low: number;
  readonly high: number;
  /** p of no departure, by t over instruments, all frets judged together (Holm). */
  readonly adjustedP: number;
}

/** Fewest instruments, or strings of one, whose departures at a fret can be told from chance. */
const fewest = 3;

/**
 * What is left of the readings at every fret when all causes, hands and, string by string, the saddle are taken off. Nothing but
 * noise is left where the causes have the right shapes; a misplaced fret or a cause left out shows as a pattern along the neck.
 */
export function leftAtFrets(sums: BlockSums, fit: MixedFit, parts: CauseParts): LeftAtFret[] {
  const effects = effectsOf(sums, fit, parts);
  const units = new Map<number, Map<number, number[]>>();
  for (let block = 0; block < sums.blockString.length; block++) {
    const cells = Array.from(
      { length: sums.blockStart[block + 1]! - sums.blockStart[block]! },
      (_, at) => sums.blockStart[block]! + at,
    );
    if (new Set(cells.map((cell) => sums.cellFret[cell]!)).size < fewestFrets) continue;
    const left = cells.map((cell) => sums.cellMean[cell]! - effects(block, cell));
    const leverage = cells.map((cell) => saddleLeverage(sums.cellFret[cell]!));
    const saddle = dot(left, leverage) / dot(leverage, leverage);
    const unit = parts.isOneInstrument ? sums.blockString[block]! : sums.blockInstrument[block]!;
    cells.forEach((cell, at) => {
      const own = units.get(sums.cellFret[cell]!) ?? new Map<number, number[]>();
      units.set(sums.cellFret[cell]!, own);
      own.set(unit, [...(own.get(unit) ?? []), left[at]! - saddle * leverage[at]!]);
    });
  }
  const found = [...units]
    .map(([fret, own]) => ({ fret, means: [...own.values()].map(mean) }))
    .filter(({ means }) => means.length >= fewest)
    .sort((a, b) => a.fret - b.fret)
    .map(({ fret, means }) => {
      const cents = mean(means);
      const df = means.length - 1;
      const error = Math.sqrt(means.reduce((sum, one) => sum + (one - cents) ** 2, 0) / df / means.length);
      const reach = halfWidth(0.95, df) * error;
      return { fret, cents, low: cents - reach, high: cents + reach, p: error > 0 ? twoSidedP(cents / error, df) : 1 };
    });
  const adjusted = holm(found.map(({ p }) => p));
  return found.map(({ fret, cents, low, high }, at) => ({ fret, cents, low, high, adjustedP: adjusted[at]! }));
}

/** What causes, hands and strings make of a cell, the saddle aside. */
function effectsOf(sums: BlockSums, fit: MixedFit, parts: CauseParts): (block: number, cell: number) => number {
  const fixed = new Map(fit.fixed.map(({ term, estimate }) => [term, estimate]));
  const strings = [...new Set(sums.blockString)];
  const instrument = sums.blockInstrument[0]!;
  const of = (kind: 'nut' | 'rise'): Map<number, number> => {
    const values = fit.predict(
      strings.map((string) => ({ fixed: { [kind]: 1 }, random: stringParts(kind, string, parts, instrument) })),
    );
    return new Map(strings.map((string, at) => [string, values[at]!]));
  };
  const [nut, rest] = [of('nut'), of('rise')];
  const sizes = parts.causes.map((cause) => fixed.get(causeTerm(cause)) ?? 0);
  const handOf = (kind: 'rise' | 'nut'): number[] => {
    const own = sums.technicians.map((_, technician) => fixed.get(technicianTerm(kind, technician)) ?? 0);
    own[own.length - 1] = -own.slice(0, -1).reduce((sum, value) => sum + value, 0);
    return own;
  };
  const [handRise, handNut] = [handOf('rise'), handOf('nut')];
  return (block, cell) => {
    const string = sums.blockString[block]!;
    const hand = sums.cellTechnician[cell]!;
    const upper = riseShape(sums.cellFret[cell]!);
    const caused = sizes.reduce((sum, size, at) => sum + size * parts.shapes[at]![cell]!, 0);
    return caused + nut.get(string)! + handNut[hand]! + (rest.get(string)! + handRise[hand]!) * upper;
  };
}

function dot(a: readonly number[], b: readonly number[]): number {
  return a.reduce((sum, value, at) => sum + value * b[at]!, 0);
}
