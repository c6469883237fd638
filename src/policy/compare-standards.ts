import type { HouseStandard, StandardEntry, StandardModel } from './standard.ts';
import { weightsText } from './verdict.ts';

/**
 * What a bench that follows the standard must do about one string:
 * `new` and `gone` entries stand in one standard only; `reset` where a saddle set by the earlier standard now reads outside the
 * window; `new card` where the card shows other weights or targets and saddles may stay; `as before` otherwise.
 */
export const changes = ['new', 'gone', 'reset', 'new card', 'as before'] as const;
export type Change = (typeof changes)[number];

/** One model and string in two standards. */
export interface EntryChange {
  readonly model: string;
  readonly string: number;
  readonly change: Change;
  readonly before: StandardEntry | null;
  readonly after: StandardEntry | null;
  /** Why it changed, in plain words; none for an entry that stands in one standard only. */
  readonly why: readonly string[];
}

export interface StandardComparison {
  /** When each was drawn up, ISO 8601. */
  readonly before: string;
  readonly after: string;
  /** What was asked for differently: loss, threshold, usage. Each may move every share. */
  readonly options: readonly string[];
  /** In the order of the later standard; entries that are gone come last. */
  readonly entries: readonly EntryChange[];
  /** How many entries changed in each way. */
  readonly counts: Readonly<Record<Change, number>>;
}

/** Sets a house standard beside the one it replaces: what changed for the bench, string by string, and why. */
export function compareStandards(before: HouseStandard, after: HouseStandard): StandardComparison {
  const options = optionChanges(before, after);
  const keyOf = ({ model, string }: StandardEntry): string => `${model}\n${string}`;
  const earlier = new Map(before.entries.map((entry) => [keyOf(entry), entry]));
  const later = new Set(after.entries.map(keyOf));
  const entries = [
    ...after.entries.map((entry) => {
      const old = earlier.get(keyOf(entry)) ?? null;
      const specs = [before, after].map(({ models }) => models.find(({ model }) => model === entry.model));
      return old ? changeOf(old, entry, options, specs) : only(null, entry);
    }),
    ...before.entries.filter((entry) => !later.has(keyOf(entry))).map((entry) => only(entry, null)),
  ];
  const counts = Object.fromEntries(
    changes.map((change) => [change, entries.filter((entry) => entry.change === change).length]),
  ) as Record<Change, number>;
  return { before: before.created, after: after.created, options, entries, counts };
}

function only(before: StandardEntry | null, after: StandardEntry | null): EntryChange {
  const { model, string } = (before ?? after)!;
  return { model, string, change: before ? 'gone' : 'new', before, after, why: [] };
}

function changeOf(
  before: StandardEntry,
  after: StandardEntry,
  options: readonly string[],
  [oldSpec, newSpec]: readonly (StandardModel | undefined)[],
): EntryChange {
  const { model, string } = after;
  const change = kindOf(before, after);
  const why = change === 'as before' ? [] : reasons(before, after, options, [oldSpec, newSpec]);
  return { model, string, change, before, after, why };
}

function kindOf(before: StandardEntry, after: StandardEntry): Change {
  // A saddle set for the old target leaves the string's own rise as it is: the 12th tells whether it is still right.
  if (Math.abs(after.target12 - before.target12) > after.window) return 'reset';
  const shown = ({ share, target12, target17 }: StandardEntry): string =>
    [weightsText(share), target12.toFixed(1), target17.toFixed(1)].join(' ');
  return shown(before) === shown(after) ? 'as before' : 'new card';
}

function reasons(
  before: StandardEntry,
  after: StandardEntry,
  options: readonly string[],
  [oldSpec, newSpec]: readonly (StandardModel | undefined)[],
): string[] {
  const why: string[] = [];
  const count =
    before.instruments === after.instruments
      ? `${after.instruments} instruments as before`
      : `${before.instruments} to ${after.instruments} instruments`;
  if (signed(before.rise) !== signed(after.rise)) {
    const inside = before.riseLow <= after.rise && after.rise <= before.riseHigh;
    why.push(
      `rise ${signed(before.rise)} to ${signed(after.rise)}, ${inside ? 'within' : 'beyond'} what the earlier standard held possible (${count})`,
    );
  }
  if (signed(before.nut) !== signed(after.nut)) why.push(`nut offset ${signed(before.nut)} to ${signed(after.nut)}`);
  if (before.saddle.join() !== after.saddle.join())
    why.push(`on a saddle with strings ${before.saddle.join(', ')}, now with ${after.saddle.join(', ')}`);
  if (oldSpec && newSpec && oldSpec.frets !== newSpec.frets)
    why.push(`${oldSpec.frets} frets, now ${newSpec.frets}, so that others are weighed`);
  if (options.length > 0) why.push('other options');
  if (why.length === 0)
    why.push(
      before.saddle.length > 1
        ? `figures of strings ${before.saddle.join(', ')} on one saddle, or how sure they are`
        : `the spread between instruments, or how sure the figures are (${count})`,
    );
  return why;
}

function optionChanges(before: HouseStandard, after: HouseStandard): string[] {
  const lossText = ({ options: { loss } }: HouseStandard): string =>
    loss.kind === 'audible' ? `audible beyond ${loss.thresholdCents} cents` : loss.kind;
  const found: string[] = [];
  if (lossText(before) !== lossText(after)) found.push(`loss: ${lossText(before)}, now ${lossText(after)}`);
  const [used, uses] = [before.options.usage, after.options.usage];
  const hashOf = ({ inputs, options }: HouseStandard): string | undefined =>
    inputs.find(({ path }) => path === options.usage)?.sha256;
  if (hashOf(before) !== hashOf(after))
    found.push(used === uses ? `usage: ${uses}, whose counts differ` : `usage: ${used}, now ${uses}`);
  return found;
}

function signed(cents: number): string {
  const text = Math.abs(cents).toFixed(1);
  return `${cents < 0 && text !== '0.0' ? '-' : '+'}${text}`;
}
