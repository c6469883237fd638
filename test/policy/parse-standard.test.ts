import { beforeAll, expect, test } from 'vitest';
import { parseStandard, standardJson } from '../../src/policy/standard-json.ts';
import { smallShop } from './small-shop.ts';

let text = '';
beforeAll(async () => {
  text = (await smallShop([1, 3, 5, 12, 17])).files['house-standard.json'];
});

type Json = Record<string, unknown>;
interface StandardFile extends Json {
  readonly options: Json;
  readonly models: Json[];
  readonly entries: (Json & { readonly rules: Json })[];
}

/** The message with which the file is refused after a change to it. */
function refusal(change: (file: StandardFile) => unknown): string {
  const file = JSON.parse(text) as StandardFile;
  const changed = change(file) as StandardFile | undefined;
  try {
    parseStandard(JSON.stringify(changed ?? file), 'bench/house-standard.json');
  } catch (error) {
    return (error as Error).message;
  }
  return 'nothing refused';
}

const advice = 'Draw the standard up again with "upneck standard", or mend the file';

test('parseStandard and standardJson are a pair that loses nothing', () => {
  const standard = parseStandard(text, 'house-standard.json');
  expect(standardJson(standard)).toBe(text);
  expect(parseStandard(standardJson(standard), 'again')).toEqual(standard);
  for (const loss of [{ kind: 'squared' }, { kind: 'minimax' }, { kind: 'audible', thresholdCents: 2.5 }] as const) {
    const other = { ...standard, options: { ...standard.options, loss } };
    expect(parseStandard(standardJson(other), 'again')).toEqual(other);
  }
});

test('parseStandard carries what models.csv said of the models', () => {
  const { models, entries, spread } = parseStandard(text, 'house-standard.json');
  expect(models).toHaveLength(3);
  expect(models[0]).toEqual({
    model: 'Plain 4',
    scaleMm: 648,
    strings: 4,
    frets: 22,
    saddles: [
      [1, 2],
      [3, 4],
    ],
    mmPerTurn: null,
    travelMm: null,
  });
  // The sd between instruments is that of the rise all strings share and that of a string's own together.
  expect(Math.hypot(spread.instrumentRise, spread.stringRise)).toBeCloseTo(entries[0]!.riseSdBetween, 2);
});

test('parseStandard reads a file that begins with a byte order mark', () => {
  expect(parseStandard(`\ufeff${text}`, 'house-standard.json').entries).toHaveLength(12);
});

test('parseStandard refuses every field that is missing, and names it', () => {
  const file = JSON.parse(text) as StandardFile;
  for (const key of Object.keys(file).filter((one) => one !== 'version'))
    expect(refusal((one) => ({ ...one, [key]: undefined }))).toBe(
      `bench/house-standard.json: ${key}: found nothing, expected a field "${key}". ${advice}`,
    );
  for (const key of Object.keys(file.entries[0]!))
    expect(refusal(({ entries }) => void delete entries[1]![key])).toBe(
      `bench/house-standard.json: entries[1].${key}: found nothing, expected a field "${key}". ${advice}`,
    );
  for (const key of Object.keys(file.models[0]!))
    expect(refusal(({ models }) => void delete models[2]![key])).toBe(
      `bench/house-standard.json: models[2].${key}: found nothing, expected a field "${key}". ${advice}`,
    );
});

test.each<[string, (file: StandardFile) => unknown, string]>([
  ['a list', () => [], 'the file: found an empty list, expected an object'],
  [
    'a share over 1',
    (f) => void (f.entries[3]!.share = 1.5),
    'entries[3].share: found 1.5, expected a number from 0 to 1',
  ],
  ['words for a number', (f) => void (f.entries[0]!.nut = '0.3'), 'entries[0].nut: found "0.3", expected a number'],
  [
    'a negative window',
    (f) => void (f.entries[0]!.window = -1),
    'entries[0].window: found -1, expected a number from 0',
  ],
  [
    'half a string',
    (f) => void (f.entries[0]!.string = 1.5),
    'entries[0].string: found 1.5, expected a whole number from 1',
  ],
  [
    'no model',
    (f) => ({ ...f, entries: [{ ...f.entries[0]!, model: '' }] }),
    'entries[0].model: found "", expected a text',
  ],
  [
    'another verdict',
    (f) => void (f.entries[0]!.verdict = 'fine'),
    'entries[0].verdict: found "fine", expected one of "12th exact", "split", "favour the 17th", "either", "measure more first"',
  ],
  [
    'a strange field',
    (f) => void (f.entries[0]!.colour = 'red'),
    'entries[0].colour: found "red", expected no field "colour"',
  ],
  [
    'a negative cost',
    (f) => void (f.entries[0]!.rules.even_split = -1),
    'entries[0].rules.even_split: found -1, expected a number from 0',
  ],
  ['no entries', (f) => ({ ...f, entries: [] }), 'entries: found an empty list, expected a list of at least 1'],
  ['a scale of 0', (f) => void (f.models[0]!.scale_mm = 0), 'models[0].scale_mm: found 0, expected a number above 0'],
  [
    'too many frets',
    (f) => void (f.models[0]!.frets = 40),
    'models[0].frets: found 40, expected a whole number from 1 to 36',
  ],
  [
    'a saddle left out',
    (f) => void (f.models[0]!.saddles = [[1, 2], [3]]),
    'models[0].saddles: found a list, expected each string from 1 to 4 on one saddle',
  ],
  [
    'a model twice',
    (f) => void (f.models[1] = f.models[0]!),
    'models[1].model: found "Plain 4", expected each model once',
  ],
  [
    'an entry twice',
    (f) => void (f.entries[1] = f.entries[0]!),
    'entries[1].string: found 1, expected each string of Plain 4 once',
  ],
  [
    'a foreign saddle',
    (f) => void (f.entries[0]!.saddle = [3, 4]),
    'entries[0].saddle: found a list, expected a list with the string itself, 1',
  ],
  [
    'a date in words',
    (f) => ({ ...f, created: 'May' }),
    'created: found "May", expected a date and time such as 2026-03-14T09:30:00.000Z',
  ],
  [
    'a loss of another kind',
    (f) => void (f.options.loss = 'cubic'),
    'options.loss: found "cubic", expected one of "audible", "squared", "minimax"',
  ],
  [
    'a threshold without its loss',
    (f) => void (f.options.loss = 'squared'),
    'options.audible_cents: found 3, expected no such field with loss "squared"',
  ],
])('parseStandard refuses %s', (_, change, message) => {
  expect(refusal(change)).toBe(`bench/house-standard.json: ${message}. ${advice}`);
});

test('parseStandard refuses shares that differ on one saddle, and ranges that do not hold their value', () => {
  const alone = { share: 0.5, share_low: 0, share_high: 1, fine_low: 0, fine_high: 1 };
  expect(
    refusal(
      ({ entries }) => void (Object.assign(entries[0]!, alone), Object.assign(entries[1]!, alone, { share: 0.6 })),
    ),
  ).toBe(
    `bench/house-standard.json: entries[0].share: found 0.5, expected 0.6, as string 2 on the same saddle has. ${advice}`,
  );
  expect(refusal(({ entries }) => void Object.assign(entries[0]!, { rise: 9, rise_low: 1, rise_high: 2 }))).toBe(
    `bench/house-standard.json: entries[0].rise: found 9, expected a number from 1 to 2. ${advice}`,
  );
});

test('parseStandard says of a file of another version who can read it', () => {
  expect(refusal((file) => ({ ...file, version: 2 }))).toBe(
    'bench/house-standard.json: version: found 2, expected version 1. Draw the standard up again with this program, or read it with the one that wrote it',
  );
});

test('parseStandard says of a file that is not JSON what it should be', () => {
  expect(() => parseStandard('model,string\n', 'card.csv')).toThrow(
    /^card\.csv: not JSON \(.+\); expected the house-standard\.json that "upneck standard" writes$/,
  );
});
