import type { BlockSums } from '../sources/block-sums.ts';
import type { Combination, RandomPart } from '../statistics/mixed/combine.ts';
import type { Columns, MixedDescription, RandomTerm } from '../statistics/mixed/description.ts';
import type { MixedFit } from '../statistics/mixed/fit-mixed.ts';
import type { ContrastRows } from './contrast-rows.ts';
import { fewestOfGroup, type Grouping } from './groups.ts';
import { robustFit, type RobustFit } from './robust-fit.ts';
import { type Identified, identify, type RootWeights, trendModel } from './trend-model.ts';

/** A fit in which every group has its own rise on every string. */
export interface GroupFit extends RobustFit {
  readonly sums: BlockSums;
  readonly grouping: Grouping;
  readonly parts: GroupParts;
}

/** What the readings can tell apart when groups have their own means. */
export interface GroupParts {
  readonly identified: Identified;
  /** Groups have nut offsets of their own; otherwise all share one, or none is told apart. */
  readonly nutByGroup: boolean;
  /** Some instruments have readings in more than one group. */
  readonly isWithin: boolean;
}

/**
 * Fits the reading-level model with fixed rises by group and string:
 *
 *     y = nut_g + a_js + (rise_gs + model_m + model:string_ms + b_j + c_js + d_jg) u(n) + hands + beta_jsp g(n) + e
 *
 * Readings in no group have means of their own and tell of the spreads alone. d is the difference between groups on one
 * instrument, where instruments have readings in several (before and after). Weights and fit settle in turn, as in `fitTrend`.
 */
export function fitGroups(sums: BlockSums, grouping: Grouping): GroupFit {
  const parts = partsOf(sums, grouping);
  const fitted = robustFit(sums, (rows, root) => ({
    ...groupModel(sums, rows, { grouping, parts, root }),
    shared: (fit) => modelsShare(sums, rows, fit, parts.identified),
  }));
  return { ...fitted, sums, grouping, parts };
}

/** Name of the term of a group's rise on a string. */
export function riseTerm(group: number, string: number): string {
  return `rise of group ${group} on string ${string}`;
}

/** Name of the term of a group's nut offset. */
export function nutTerm(group: number): string {
  return `nut of group ${group}`;
}

/** Tells from the readings what can be told apart. */
export function partsOf(sums: BlockSums, { ofBlock, groups }: Grouping): GroupParts {
  const identified = identify(sums);
  const rest = ofBlock.some((group) => group === groups.length);
  // The spread between models shows where a group, or the rest, has more than one.
  const modelsIn = new Map<number, Set<number>>();
  const groupsOn = new Map<number, Set<number>>();
  ofBlock.forEach((group, block) => {
    const instrument = sums.blockInstrument[block]!;
    modelsIn.set(group, (modelsIn.get(group) ?? new Set()).add(sums.modelOfInstrument[instrument]!));
    groupsOn.set(instrument, (groupsOn.get(instrument) ?? new Set()).add(group));
  });
  const models = identified.models && [...modelsIn.values()].some((set) => set.size > 1);
  const restHasNut = (): boolean => {
    const dense = new Set<number>();
    ofBlock.forEach((group, block) => {
      const frets = new Set(sums.cellFret.subarray(sums.blockStart[block], sums.blockStart[block + 1]));
      if (group === groups.length && frets.size > 2) dense.add(sums.blockInstrument[block]!);
    });
    return dense.size >= fewestOfGroup;
  };
  const nutByGroup =
    identified.nut && groups.every(({ manyFrets }) => manyFrets.size >= fewestOfGroup) && (!rest || restHasNut());
  return {
    identified: {
      ...identified,
      strings: false,
      models,
      modelStrings: identified.modelStrings && models,
      nutByModel: identified.nutByModel && models,
    },
    nutByGroup,
    isWithin: [...groupsOn.values()].some((set) => set.size - Number(set.has(groups.length)) > 1),
  };
}

/** The model of {@link fitGroups} as columns and a description for `fitMixed`. */
export function groupModel(
  sums: BlockSums,
  rows: ContrastRows,
  { grouping, parts, root }: { grouping: Grouping; parts: GroupParts; root: RootWeights },
): { readonly columns: Columns; readonly description: MixedDescription } {
  const model = trendModel(sums, rows, { identified: parts.identified, root, covariates: [] });
  const columns: Record<string, ArrayLike<number> | readonly string[]> = { ...model.columns };
  const kept = (model.description.fixed as readonly { readonly numeric: string }[]).map(({ numeric }) => numeric);
  const group = (row: number): number => grouping.ofBlock[rows.block[row]!]!;
  const fixed: string[] = [];
  const add = (name: string, from: 'rise' | 'nut', belongs: (row: number) => boolean): void => {
    const all = model.columns[from] as Float64Array;
    const own = all.map((value, row) => (belongs(row) ? value : 0));
    if (!own.some((value) => value !== 0)) return;
    columns[name] = own;
    fixed.push(name);
  };
  const strings = [...new Set(sums.blockString)].sort((a, b) => a - b);
  for (let at = 0; at <= grouping.groups.length; at++) {
    for (const string of strings)
      add(riseTerm(at, string), 'rise', (row) => group(row) === at && sums.blockString[rows.block[row]!] === string);
    if (parts.nutByGroup) add(nutTerm(at), 'nut', (row) => group(row) === at);
  }
  fixed.push(...kept.filter((name) => name !== 'rise' && !(name === 'nut' && parts.nutByGroup)));
  const random: RandomTerm[] = [...model.description.random];
  // With one string an instrument's difference between groups is that of its string's passes, which stands in the readings' error.
  if (parts.isWithin && parts.identified.instruments) {
    columns.group = Int32Array.from(rows.block, (_, row) => group(row));
    random.push({ group: ['instrument', 'group'], effects: ['instrumentRise'] });
  }
  return { columns, description: { ...model.description, fixed: fixed.map((numeric) => ({ numeric })), random } };
}

/** Per row: what the row's model adds to its groups. */
function modelsShare(sums: BlockSums, rows: ContrastRows, fit: MixedFit, identified: Identified): Float64Array {
  const keyOf = (row: number): string => {
    const block = rows.block[row]!;
    return `${sums.modelOfInstrument[sums.blockInstrument[block]!]!}:${sums.blockString[block]!}`;
  };
  const keys = [...new Set(Array.from(rows.block.keys(), keyOf))];
  const pairs = keys.map((key) => key.split(':').map(Number) as [model: number, string: number]);
  const rises = fit.predict(pairs.map(([model, string]) => modelParts([model], [string], identified)));
  const nuts = fit.predict(
    pairs.map(([model]) => ({
      random: identified.nutByModel ? [{ group: ['model'], level: [model], effect: 'nut' }] : [],
    })),
  );
  const place = new Map(keys.map((key, at) => [key, at]));
  return rows.rise.map((rise, row) => {
    const at = place.get(keyOf(row))!;
    return rises[at]! * rise + nuts[at]! * rows.nut[row]!;
  });
}

/** The mean of what models add to a group's rise over strings, every model counted alike. */
export function modelParts(
  models: readonly number[],
  strings: readonly number[],
  { models: isModels, modelStrings }: Pick<Identified, 'models' | 'modelStrings'>,
  has: (model: number, string: number) => boolean = () => true,
): Combination {
  const random: RandomPart[] = [];
  for (const string of strings) {
    const own = models.filter((model) => has(model, string));
    for (const model of own) {
      const coefficient = 1 / (strings.length * own.length);
      if (isModels) random.push({ group: ['model'], level: [model], effect: 'rise', coefficient });
      if (modelStrings)
        random.push({ group: ['model', 'string'], level: [model, string], effect: 'rise', coefficient });
    }
  }
  return { random };
}
