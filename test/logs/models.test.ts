import { expect, test } from 'vitest';
import { readModels } from '../../src/logs/models.ts';

const header = 'model,scale_mm,strings,frets,saddles,mm_per_turn,travel_mm,placement,tuning';

test('readModels reads scale, strings, frets, saddles, screw, travel, placement and tuning', () => {
  const { models, problems } = readModels(
    `${header}\nHeron,648,6,22,12|34|56,0.7,8,rule of eighteen,E4|B3|G3|D3|A2|E2\nMarsh,864,4,20,1|2|3|4,,,,\n`,
    'models.csv',
  );
  expect(problems).toEqual([]);
  expect(models).toEqual([
    {
      model: 'Heron',
      scaleMm: 648,
      strings: 6,
      frets: 22,
      saddles: [
        [1, 2],
        [3, 4],
        [5, 6],
      ],
      mmPerTurn: 0.7,
      travelMm: 8,
      placement: 'rule of eighteen',
      // Equal temperament, A4 = 440 Hz (ISO 16); any table of pitches, from memory.
      tuningHz: [329.628, 246.942, 195.998, 146.832, 110, 82.407].map((hz) => expect.closeTo(hz, 3) as number),
    },
    {
      model: 'Marsh',
      scaleMm: 864,
      strings: 4,
      frets: 20,
      saddles: [[1], [2], [3], [4]],
      mmPerTurn: null,
      travelMm: null,
      placement: 'equal',
    },
  ]);
});

test.each([
  ['123456', '6', [[1, 2, 3, 4, 5, 6]]],
  ['1|2|3|4|5|6', '6', [[1], [2], [3], [4], [5], [6]]],
  [
    '12|34|567',
    '7',
    [
      [1, 2],
      [3, 4],
      [5, 6, 7],
    ],
  ],
  ['1', '1', [[1]]],
  [
    '1+2|3+4|5+6',
    '6',
    [
      [1, 2],
      [3, 4],
      [5, 6],
    ],
  ],
  [
    '1+2|3+4|5+6|7+8|9+10|11+12',
    '12',
    [
      [1, 2],
      [3, 4],
      [5, 6],
      [7, 8],
      [9, 10],
      [11, 12],
    ],
  ],
])('readModels reads the saddles %s of %s strings', (saddles, strings, groups) => {
  const { models } = readModels(`${header}\nHeron,648,${strings},22,${saddles},,,,\n`, 'models.csv');
  expect(models[0]?.saddles).toEqual(groups);
});

test('readModels reads semicolons, decimal commas, CRLF and a byte order mark', () => {
  const { models } = readModels(
    '\ufeffModel;Scale mm;Strings;Frets;Saddles;mm_per_turn\r\nHeron;647,7;6;22;123456;0,5\r\n;;;;;\r\n',
    'models.csv',
  );
  expect(models).toMatchObject([{ model: 'Heron', scaleMm: 647.7, mmPerTurn: 0.5 }]);
});

test('readModels names every cell that is wrong, and what it should be', () => {
  const { models, problems } = readModels(
    `${header}\n,0,13,40,12,-1,x,,\nHeron,648,6,22,12|34|5,,,,E4|B3\nHeron,648,6,22.5,1234567,,,,E4|B3|G3|D3|A2|H2\n"A,1,2\nB,1\n`,
    'models.csv',
  );
  expect(models).toEqual([]);
  expect(problems).toEqual([
    'models.csv:5: found "A,1,2, expected a closing quote before the next separator or at the end of the text',
    'models.csv:6: found 2 fields under a header of 9, expected one field for each column of the header',
  ]);
  expect(
    readModels(
      `${header}\n,0,13,40,12,-1,x,,\nHeron,648,6,22,12|34|5,,,,E4|B3\nMarsh,648,6,22.5,123456,,,,E4|B3|G3|D3|A2|H2\nMarsh,1,1,1,1,,,,\nMarsh,1,1,1,1,,,,\n`,
      'models.csv',
    ).problems,
  ).toEqual([
    'models.csv:2, column "model": found "", expected a name',
    'models.csv:2, column "strings": found "13", expected a whole number above 0 and up to 12',
    'models.csv:2, column "saddles": found "12", expected each string once, such as 1|2|3|4|5|6, 12|34|56 or 123456',
    'models.csv:2, column "scale_mm": found "0", expected a number above 0',
    'models.csv:2, column "frets": found "40", expected a whole number above 0 and up to 36',
    'models.csv:2, column "mm_per_turn": found "-1", expected a number above 0',
    'models.csv:2, column "travel_mm": found "x", expected a number above 0',
    'models.csv:3, column "saddles": found "12|34|5", expected each string once, such as 1|2|3|4|5|6, 12|34|56 or 123456',
    'models.csv:3, column "tuning": found "E4|B3", expected one note for each string from string 1, such as E4|B3|G3|D3|A2|E2',
    'models.csv:4, column "tuning": found "E4|B3|G3|D3|A2|H2", expected one note for each string from string 1, such as E4|B3|G3|D3|A2|E2',
    'models.csv:4, column "frets": found "22.5", expected a whole number above 0 and up to 36',
    'models.csv:6, column "model": found "Marsh", expected each model once',
  ]);
});

test('readModels says which columns are missing', () => {
  expect(readModels('model,strings\n', 'models.csv').problems).toEqual([
    'models.csv: found no column "scale_mm", expected model, scale_mm, strings, frets, saddles',
    'models.csv: found no column "frets", expected model, scale_mm, strings, frets, saddles',
    'models.csv: found no column "saddles", expected model, scale_mm, strings, frets, saddles',
  ]);
  expect(readModels('', 'models.csv').problems).toHaveLength(5);
});
