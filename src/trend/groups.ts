import type { ModelSpec } from '../logs/models.ts';
import type { BlockSums } from '../sources/block-sums.ts';
import { tellsRise } from './trend-model.ts';

/** A group of readings: those that meet every condition given. Without any condition it is every reading. */
export interface Group {
  readonly name: string;
  readonly models?: readonly string[];
  readonly instruments?: readonly string[];
  /** String numbers, 1 the thinnest. */
  readonly strings?: readonly number[];
  readonly passes?: readonly number[];
  readonly winding?: 'plain' | 'wound';
  /** Smallest and largest gauge in mm, both included. */
  readonly gaugeMm?: readonly [smallest: number, largest: number];
}

/**
 * A group for every fret placement that models.csv names, of the models that were read. To speak of the placements, and not of the
 * models that happen to have them, compare these with the reach `models like these`.
 */
export function placementGroups(models: readonly ModelSpec[], sums: Pick<BlockSums, 'models'>): Group[] {
  const read = models.filter(({ model }) => sums.models.includes(model));
  return [...new Set(read.map(({ placement }) => placement))].map((placement) => ({
    name: placement,
    models: read.filter((spec) => spec.placement === placement).map(({ model }) => model),
  }));
}

/** A group as the log knows it. */
export interface FoundGroup {
  readonly name: string;
  /** Models, by index. */
  readonly models: readonly number[];
  /** Strings whose rise its readings tell of, thinnest first. */
  readonly strings: readonly number[];
  /** Instruments with such a string, and those read at three frets or more, by index. */
  readonly instruments: ReadonlySet<number>;
  readonly manyFrets: ReadonlySet<number>;
}

export interface Grouping {
  /** Per block: index of its group, or the number of groups for the rest. */
  readonly ofBlock: Int32Array;
  readonly groups: readonly FoundGroup[];
}

/** Fewest instruments of a group from which a spread within it can be told. */
export const fewestOfGroup = 3;

/** A message names at most so many of what the log has. */
const mostNamed = 20;

/**
 * Sorts the blocks of a log into groups.
 *
 * @throws {RangeError} when a group names something the log does not have (what it has is listed), when two groups share a
 * reading or a name, or when a group has fewer than {@link fewestOfGroup} instruments that tell of a rise
 */
export function findGroups(sums: BlockSums, groups: readonly Group[]): Grouping {
  if (groups.length < 2)
    throw new RangeError(`Cannot compare ${groups.length} group${groups.length === 1 ? '' : 's'}; expected at least 2`);
  groups.forEach((group, at) => {
    requireKnown(sums, group);
    if (groups.findIndex(({ name }) => name === group.name) < at)
      throw new RangeError(`Cannot compare two groups named "${group.name}"; give each its own name`);
  });
  const ofBlock = Int32Array.from(sums.blockString, (_, block) => {
    const [first, second] = groups.flatMap((group, at) => (belongs(sums, block, group) ? [at] : []));
    if (second !== undefined)
      throw new RangeError(
        `Cannot compare "${groups[first!]!.name}" and "${groups[second]!.name}": ` +
          `instrument ${sums.instruments[sums.blockInstrument[block]!]!}, string ${sums.blockString[block]!}, pass ${sums.blockPass[block]!} is in both; ` +
          'expected groups without readings in common',
      );
    return first ?? groups.length;
  });
  return { ofBlock, groups: groups.map(({ name }, at) => describe(sums, name, blocksOf(ofBlock, at))) };
}

function blocksOf(ofBlock: Int32Array, group: number): number[] {
  return [...ofBlock.keys()].filter((block) => ofBlock[block] === group);
}

function describe(sums: BlockSums, name: string, blocks: readonly number[]): FoundGroup {
  const telling = blocks.filter((block) => tellsRise(sums, block));
  const instrumentsOf = (some: readonly number[]): Set<number> =>
    new Set(some.map((block) => sums.blockInstrument[block]!));
  const instruments = instrumentsOf(telling);
  if (instruments.size < fewestOfGroup)
    throw new RangeError(
      `Cannot compare "${name}": ${instruments.size === 1 ? '1 instrument is' : `${instruments.size} instruments are`} read there at two frets on one pass, one of them above the 12th; ` +
        `expected at least ${fewestOfGroup}, better 6`,
    );
  const frets = (block: number): number =>
    new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1])).size;
  return {
    name,
    models: [...new Set([...instruments].map((instrument) => sums.modelOfInstrument[instrument]!))],
    strings: [...new Set(telling.map((block) => sums.blockString[block]!))].sort((a, b) => a - b),
    instruments,
    manyFrets: instrumentsOf(telling.filter((block) => frets(block) > 2)),
  };
}

function belongs(sums: BlockSums, block: number, group: Group): boolean {
  const instrument = sums.blockInstrument[block]!;
  const { models, instruments, strings, passes, winding, gaugeMm } = group;
  const gauge = sums.blockCovariates.gaugeMm?.[block] ?? NaN;
  return (
    (!models || models.includes(sums.models[sums.modelOfInstrument[instrument]!]!)) &&
    (!instruments || instruments.includes(sums.instruments[instrument]!)) &&
    (!strings || strings.includes(sums.blockString[block]!)) &&
    (!passes || passes.includes(sums.blockPass[block]!)) &&
    (!winding || sums.blockCovariates.wound?.[block] === (winding === 'wound' ? 1 : 0)) &&
    (!gaugeMm || (gauge >= gaugeMm[0] && gauge <= gaugeMm[1]))
  );
}

function requireKnown(sums: BlockSums, group: Group): void {
  const inOrder = (numbers: Int32Array): number[] => [...new Set(numbers)].sort((a, b) => a - b);
  const conditions: [what: string, wanted: readonly (string | number)[], known: readonly (string | number)[]][] = [
    ['model', group.models ?? [], sums.models],
    ['instrument', group.instruments ?? [], sums.instruments],
    ['string', group.strings ?? [], inOrder(sums.blockString)],
    ['pass', group.passes ?? [], inOrder(sums.blockPass)],
  ];
  for (const [what, wanted, known] of conditions)
    for (const one of wanted)
      if (!known.includes(one))
        throw new RangeError(
          `Cannot compare "${group.name}": the log has no ${what} "${one}"; it has ${known.slice(0, mostNamed).join(', ')}` +
            (known.length > mostNamed ? ` and ${known.length - mostNamed} more` : ''),
        );
  if (group.winding && !sums.blockCovariates.wound)
    throw new RangeError(`Cannot compare "${group.name}": the log has no column "winding" with plain or wound`);
  if (group.gaugeMm && !sums.blockCovariates.gaugeMm)
    throw new RangeError(`Cannot compare "${group.name}": the log has no column "gauge_mm" or "gauge_in"`);
  const gauges = [...(sums.blockCovariates.gaugeMm ?? [])].filter((gauge) => gauge > 0);
  const [smallest, largest] = group.gaugeMm ?? [0, Infinity];
  if (group.gaugeMm && !gauges.some((gauge) => gauge >= smallest && gauge <= largest))
    throw new RangeError(
      `Cannot compare "${group.name}": the log has no gauge from ${smallest} to ${largest} mm; it has ${Math.min(...gauges)} to ${Math.max(...gauges)} mm`,
    );
}
