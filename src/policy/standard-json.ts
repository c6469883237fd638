import { type JsonFields, jsonFields } from './json-fields.ts';
import type { Loss } from './loss.ts';
import { oneLine } from './plain-text.ts';
import type { RuleOfThumb } from './rules-of-thumb.ts';
import type { HouseStandard, StandardEntry, StandardModel } from './standard.ts';
import { verdicts } from './verdict.ts';

/** Names of the rules of thumb in the file. */
const ruleNames: Record<RuleOfThumb, string> = {
  '12th exact': 'twelfth_exact',
  '17th exact': 'seventeenth_exact',
  'even split': 'even_split',
  'low strings 12th, high strings split': 'low_exact_high_split',
};

/** Rounds to what a file needs: a thousandth of a cent, a ten-thousandth of a share. */
const round = (value: number, digits: number): number => Number(value.toFixed(digits));
const cents = (value: number): number => round(value, 3);

/**
 * `house-standard.json`: the standard as text, by the schema in `shared/house-standard.schema.json`. Entries come in the
 * order of models and strings; figures are rounded to 0.001 cents and 0.0001 of a share.
 */
export function standardJson(standard: HouseStandard): string {
  const { loss, usage, seed } = standard.options;
  const document = {
    version: standard.version,
    created: standard.created,
    inputs: standard.inputs,
    options: {
      loss: loss.kind,
      ...(loss.kind === 'audible' ? { audible_cents: loss.thresholdCents } : {}),
      usage,
      seed,
    },
    notes: standard.notes,
    spread: {
      instrument_rise: cents(standard.spread.instrumentRise),
      string_rise: cents(standard.spread.stringRise),
      string_nut: cents(standard.spread.stringNut),
    },
    models: standard.models.map(modelJson),
    entries: standard.entries.map(entryJson),
  };
  return `${JSON.stringify(document, null, 2)}\n`;
}

/** One entry with the file's names, in the file's order of columns. */
export function entryJson(entry: StandardEntry): Record<string, unknown> {
  return {
    model: entry.model,
    string: entry.string,
    saddle: entry.saddle,
    share: round(entry.share, 4),
    share_low: round(entry.shareLow, 4),
    share_high: round(entry.shareHigh, 4),
    fine_low: round(entry.fineLow, 4),
    fine_high: round(entry.fineHigh, 4),
    clipped: entry.clipped,
    rise: cents(entry.rise),
    rise_low: cents(entry.riseLow),
    rise_high: cents(entry.riseHigh),
    rise_raw: entry.riseRaw === null ? null : cents(entry.riseRaw),
    rise_sd_between: cents(entry.riseSdBetween),
    nut: cents(entry.nut),
    reading_sd: cents(entry.readingSd),
    target12: cents(entry.target12),
    target17: cents(entry.target17),
    window: cents(entry.window),
    expected_error: cents(entry.expectedError),
    error_95: cents(entry.error95),
    cost: cents(entry.cost),
    regret: cents(entry.regret),
    instruments: entry.instruments,
    verdict: entry.verdict,
    reason: entry.reason,
    rules: Object.fromEntries(
      Object.entries(entry.rules).map(([rule, cost]) => [ruleNames[rule as RuleOfThumb], cents(cost)]),
    ),
  };
}

function modelJson(model: StandardModel): Record<string, unknown> {
  return {
    model: model.model,
    scale_mm: model.scaleMm,
    strings: model.strings,
    frets: model.frets,
    saddles: model.saddles,
    mm_per_turn: model.mmPerTurn,
    travel_mm: model.travelMm,
  };
}

const advice = 'Draw the standard up again with "upneck standard", or mend the file';

/**
 * Reads `house-standard.json` back; the inverse of {@link standardJson}, whose text it gives back unchanged.
 *
 * Every field is checked, and that fields agree: ranges hold their value, a model and string come once, a saddle carries its
 * own string and gives all its strings one share.
 *
 * @param file name for messages
 * @throws {RangeError} naming the file, the place in it, what was found, what was expected, and what to do
 */
export function parseStandard(text: string, file: string): HouseStandard {
  let json: unknown;
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''));
  } catch (error) {
    throw new RangeError(
      `${file}: not JSON (${oneLine((error as Error).message)}); expected the house-standard.json that "upneck standard" writes`,
      { cause: error },
    );
  }
  const read = jsonFields(file, advice);
  if (typeof json === 'object' && json !== null && 'version' in json && json.version !== 1)
    jsonFields(file, 'Draw the standard up again with this program, or read it with the one that wrote it').refuse(
      'version',
      json.version,
      'version 1',
    );
  const fields = ['version', 'created', 'inputs', 'options', 'notes', 'spread', 'models', 'entries'];
  const document = read.object(json, 'the file', fields);
  const spread = read.object(document.spread, 'spread', ['instrument_rise', 'string_rise', 'string_nut']);
  const size = (key: string): number => read.number(spread[key], `spread.${key}`, { least: 0 });
  const standard: HouseStandard = {
    version: 1,
    created: readInstant(read, document.created),
    inputs: read.list(document.inputs, 'inputs', (value, path) => readInput(read, value, path), 1),
    options: readOptions(read, document.options),
    notes: read.list(document.notes, 'notes', (value, path) => read.text(value, path)),
    spread: {
      instrumentRise: size('instrument_rise'),
      stringRise: size('string_rise'),
      stringNut: size('string_nut'),
    },
    models: read.list(document.models, 'models', (value, path) => readModel(read, value, path)),
    entries: read.list(document.entries, 'entries', (value, path) => readEntry(read, value, path), 1),
  };
  requireAgreement(read, standard);
  return standard;
}

function readInstant(read: JsonFields, value: unknown): string {
  const text = read.text(value, 'created');
  const isInstant = /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}/.test(text) && !Number.isNaN(Date.parse(text));
  return isInstant ? text : read.refuse('created', text, 'a date and time such as 2026-03-14T09:30:00.000Z');
}

function readInput(read: JsonFields, value: unknown, path: string): HouseStandard['inputs'][number] {
  const input = read.object(value, path, ['path', 'sha256']);
  const sha256 = read.text(input.sha256, `${path}.sha256`);
  if (!/^[0-9a-f]{64}$/.test(sha256)) read.refuse(`${path}.sha256`, sha256, '64 hexadecimal digits');
  return { path: read.text(input.path, `${path}.path`), sha256 };
}

function readOptions(read: JsonFields, value: unknown): HouseStandard['options'] {
  const options = read.object(value, 'options', ['loss', 'usage', 'seed'], ['audible_cents']);
  const kind = read.oneOf(options.loss, 'options.loss', ['audible', 'squared', 'minimax']);
  const threshold = options.audible_cents;
  if (kind !== 'audible' && threshold !== undefined)
    read.refuse('options.audible_cents', threshold, `no such field with loss "${kind}"`);
  const loss: Loss =
    kind === 'audible'
      ? { kind, thresholdCents: read.number(threshold, 'options.audible_cents', { least: 0 }) }
      : { kind };
  return {
    loss,
    usage: read.text(options.usage, 'options.usage'),
    seed: read.number(options.seed, 'options.seed', { whole: true }),
  };
}

function readModel(read: JsonFields, value: unknown, path: string): StandardModel {
  const keys = ['model', 'scale_mm', 'strings', 'frets', 'saddles', 'mm_per_turn', 'travel_mm'];
  const model = read.object(value, path, keys);
  const length = (key: string): number => read.number(model[key], `${path}.${key}`, { above: 0 });
  const strings = read.number(model.strings, `${path}.strings`, { whole: true, least: 1, most: 12 });
  const saddles = read.list(model.saddles, `${path}.saddles`, (group, at) => readStrings(read, group, at), 1);
  const all = saddles.flat().sort((a, b) => a - b);
  if (all.length !== strings || all.some((string, at) => string !== at + 1))
    read.refuse(`${path}.saddles`, saddles, `each string from 1 to ${strings} on one saddle`);
  return {
    model: read.text(model.model, `${path}.model`),
    scaleMm: length('scale_mm'),
    strings,
    frets: read.number(model.frets, `${path}.frets`, { whole: true, least: 1, most: 36 }),
    saddles,
    mmPerTurn: model.mm_per_turn === null ? null : length('mm_per_turn'),
    travelMm: model.travel_mm === null ? null : length('travel_mm'),
  };
}

function readStrings(read: JsonFields, value: unknown, path: string): number[] {
  return read.list(value, path, (one, at) => read.number(one, at, { whole: true, least: 1 }), 1);
}

function readEntry(read: JsonFields, value: unknown, path: string): StandardEntry {
  const entry = read.object(value, path, entryKeys);
  const number = (key: string, range = {}): number => read.number(entry[key], `${path}.${key}`, range);
  const size = (key: string): number => number(key, { least: 0 });
  const share = (key: string): number => number(key, { least: 0, most: 1 });
  const rules = read.object(entry.rules, `${path}.rules`, Object.values(ruleNames));
  return {
    model: read.text(entry.model, `${path}.model`),
    string: number('string', { whole: true, least: 1 }),
    saddle: readStrings(read, entry.saddle, `${path}.saddle`),
    share: share('share'),
    shareLow: share('share_low'),
    shareHigh: share('share_high'),
    fineLow: share('fine_low'),
    fineHigh: share('fine_high'),
    clipped: read.oneOf(entry.clipped, `${path}.clipped`, ['no', 'at the 12th', 'at the 17th']),
    rise: number('rise'),
    riseLow: number('rise_low'),
    riseHigh: number('rise_high'),
    riseRaw: entry.rise_raw === null ? null : number('rise_raw'),
    riseSdBetween: size('rise_sd_between'),
    nut: number('nut'),
    readingSd: size('reading_sd'),
    target12: number('target12'),
    target17: number('target17'),
    window: size('window'),
    expectedError: size('expected_error'),
    error95: size('error_95'),
    cost: size('cost'),
    regret: size('regret'),
    instruments: number('instruments', { whole: true, least: 0 }),
    verdict: read.oneOf(entry.verdict, `${path}.verdict`, verdicts),
    reason: read.text(entry.reason, `${path}.reason`),
    rules: Object.fromEntries(
      Object.entries(ruleNames).map(([rule, key]) => [
        rule,
        read.number(rules[key], `${path}.rules.${key}`, { least: 0 }),
      ]),
    ) as Record<RuleOfThumb, number>,
  };
}

const entryKeys = [
  ...['model', 'string', 'saddle', 'share', 'share_low', 'share_high', 'fine_low', 'fine_high', 'clipped'],
  ...['rise', 'rise_low', 'rise_high', 'rise_raw', 'rise_sd_between', 'nut', 'reading_sd', 'target12', 'target17'],
  ...['window', 'expected_error', 'error_95', 'cost', 'regret', 'instruments', 'verdict', 'reason', 'rules'],
];

/** What no single field can show to be wrong. */
function requireAgreement(read: JsonFields, { models, entries }: HouseStandard): void {
  models.forEach(({ model }, at) => {
    if (models.findIndex((one) => one.model === model) < at)
      read.refuse(`models[${at}].model`, model, 'each model once');
  });
  entries.forEach((entry, at) => {
    const path = `entries[${at}]`;
    if (entries.findIndex(({ model, string }) => model === entry.model && string === entry.string) < at)
      read.refuse(`${path}.string`, entry.string, `each string of ${entry.model} once`);
    if (!entry.saddle.includes(entry.string))
      read.refuse(`${path}.saddle`, entry.saddle, `a list with the string itself, ${entry.string}`);
    for (const other of entries.filter(({ model, string }) => model === entry.model && entry.saddle.includes(string)))
      if (other.share !== entry.share)
        read.refuse(`${path}.share`, entry.share, `${other.share}, as string ${other.string} on the same saddle has`);
    const ranges = [
      ['share', entry.shareLow, entry.share, entry.shareHigh],
      ['share', entry.fineLow, entry.share, entry.fineHigh],
      ['rise', entry.riseLow, entry.rise, entry.riseHigh],
    ] as const;
    for (const [key, low, value, high] of ranges)
      if (!(low <= value && value <= high)) read.refuse(`${path}.${key}`, value, `a number from ${low} to ${high}`);
  });
}
