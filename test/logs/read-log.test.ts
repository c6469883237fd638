import { expect, test } from 'vitest';
import type { ModelSpec } from '../../src/logs/models.ts';
import { readLog, type Log } from '../../src/logs/read-log.ts';
import { explain } from '../../src/logs/reject.ts';

const header = 'instrument,model,string,fret,cents';
const spec: ModelSpec = {
  model: 'Heron',
  scaleMm: 648,
  strings: 6,
  frets: 22,
  saddles: [[1], [2], [3], [4], [5], [6]],
  mmPerTurn: 0.7,
  travelMm: 8,
  placement: 'equal',
};

const read = (...lines: string[]): Log => readLog(lines.join('\n'), 'bench.csv');
const centsOf = (log: Log): number[] => Array.from(log.readings.array('cents') as Iterable<number>);
const rulesOf = (log: Log): string[] => log.rejects.map(({ line, rule }) => `${line} ${rule}`);

test('readLog reads every documented column of a long log', () => {
  const log = read(
    `${header},open_cents,pass,measured_at,technician,note,saddle_mm,scale_mm,gauge_in,winding,action_mm,relief_mm,pickup_mm,resolution_cents`,
    'I-1,Heron,2,12,3.5,1.5,1,2026-03-14T09:30,Ada,fine,-0.5,648,0.010,Plain,1.6,0.2,2.5,0.1',
  );
  expect(log.readings.objects()).toEqual([
    {
      instrument: 'I-1',
      model: 'Heron',
      string: 2,
      fret: 12,
      pass: 1,
      cents: 2,
      technician: 'Ada',
      measuredAt: '2026-03-14T09:30',
      note: 'fine',
      winding: 'plain',
      saddleMm: -0.5,
      scaleMm: 648,
      gaugeMm: 0.254, // 0.010 in at 25.4 mm to the inch (by definition; from memory)
      actionMm: 1.6,
      reliefMm: 0.2,
      pickupMm: 2.5,
      resolutionCents: 0.1,
      file: 'bench.csv',
      line: 2,
    },
  ]);
});

test.each([
  ['1.5', 1.5],
  ['1.5e0', 1.5],
  ['+3', 3],
  ['\u22122', -2],
  [' 4 ', 4],
  ['-0', 0],
  ['.5', 0.5],
  ['5.', 5],
  ['"1,5"', 1.5],
  ['12.345678901234567890', 12.345678901234567],
])('readLog reads the number %s', (cell, value) => {
  expect(centsOf(read(header, `I-1,Heron,1,12,${cell}`))).toEqual([value]);
});

test.each([
  '"1,234.5"',
  '"1.234,5"',
  '"1,234"',
  'NaN',
  'Infinity',
  '-Infinity',
  '0x10',
  '1e999',
  '1_0',
  '1 0',
  '--1',
  '+',
  '3c',
  'NA',
])('readLog refuses %s as a number', (cell) => {
  expect(rulesOf(read(header, `I-1,Heron,1,12,${cell}`, 'I-1,Heron,1,12,0.5'))).toEqual(['2 not-a-number']);
});

test('readLog gives each bad row its own rule, and keeps the others', () => {
  const columns = 'instrument,model,string,fret,cents,hz,open_hz,pass,measured_at,winding,scale_mm';
  const rows: [row: string, rule: string | null][] = [
    [',Heron,1,12,0.5,,,,,,', 'missing'],
    ['I-1, ,1,12,0.5,,,,,,', 'missing'],
    ['I-1,Heron,,12,0.5,,,,,,', 'missing'],
    ['I-1,Heron,1,,0.5,,,,,,', 'missing'],
    ['I-1,Heron,1,12,,,,,,,', 'no-reading'],
    ['I-1,Heron,1,12,sharp,,,,,,', 'not-a-number'],
    ['I-1,Heron,one,12,0.5,,,,,,', 'not-a-number'],
    ['I-1,Heron,1.5,12,0.5,,,,,,', 'not-whole'],
    ['I-1,Heron,1,12.5,0.5,,,,,,', 'not-whole'],
    ['I-1,Heron,1,12,0.5,,,-1,,,', 'not-whole'],
    ['I-1,Heron,1,0,0.5,,,,,,', 'fret-range'],
    ['I-1,Heron,1,-3,0.5,,,,,,', 'fret-range'],
    ['I-1,Heron,1,23,0.5,,,,,,', 'fret-range'],
    ['I-2,Unknown,1,23,0.5,,,,,,', null],
    ['I-2,Unknown,1,37,0.5,,,,,,', 'fret-range'],
    ['I-1,Heron,0,12,0.5,,,,,,', 'string-range'],
    ['I-1,Heron,7,12,0.5,,,,,,', 'string-range'],
    ['I-2,Unknown,7,12,0.5,,,,,,', null],
    ['I-2,Unknown,13,12,0.5,,,,,,', 'string-range'],
    ['I-1,Heron,1,12,,0,329.6,,,,', 'not-positive'],
    ['I-1,Heron,1,12,,660,-1,,,,', 'not-positive'],
    ['I-1,Heron,1,12,0.5,,,,,,-648', 'not-positive'],
    ['I-1,Heron,1,12,600,,,,,,', null],
    ['I-1,Heron,1,12,-600.5,,,,,,', 'cents-range'],
    ['I-1,Heron,1,12,0.5,,,,14.3.2026,,', 'not-a-date'],
    ['I-1,Heron,1,12,0.5,,,,2026-02-29,,', 'not-a-date'],
    ['I-1,Heron,1,12,0.5,,,,,flat,', 'unknown-word'],
    ['I-1,Heron,1,12,0.5', 'field-count'],
    ['I-1,Heron,1,12,0.5,,,,,,,', 'field-count'],
    ['I-1,He\u0000ron,1,12,0.5,,,,,,', 'not-text'],
    ['"I-1,Heron,1,12,0.5,,,,,,', 'unclosed-quote'],
    ['I-2,Unknown,1,12,,660,,,,,', 'no-reference'],
    ['I-1,Heron,1,12,0.5,,,2,2026-03-14,wound,648', null],
    [',,,,,,,,,,', 'missing'],
  ];
  const log = readLog([columns, ...rows.map(([row]) => row)].join('\r\n'), 'bench.csv', { models: [spec] });
  expect(log.rejects.map(({ line, rule, text }) => [line, rule, text])).toEqual(
    rows.flatMap(([row, rule], index) => (rule === null ? [] : [[index + 2, rule, row]])),
  );
  expect(log.totals).toEqual({ rows: rows.length, readings: 4, rejects: rows.length - 4 });
});

test('explain says where, what was found and what was expected', () => {
  const log = read(header, 'I-1,Heron,1,12,sharp', 'I-1,Heron,1,12', 'I-1,Heron,1,12,', 'I-1,H\u0007,1,12,1');
  expect(log.rejects.map(explain)).toEqual([
    'bench.csv:2, column "cents": found "sharp", expected a number such as 1.5 or -2',
    'bench.csv:3: found 4 fields under a header of 5, expected one field for each column of the header',
    'bench.csv:4, column "cents": found nothing, expected a reading in cents or in hertz',
    'bench.csv:5, column "model": found "H\\x07", expected text without control characters',
  ]);
});

test('readLog counts a filled fret of a wide log as a row, and a line without any as one', () => {
  const log = read(
    'instrument,model,string,pass,F5,f12,f17',
    'I-1,Heron,1,0,,1.5,2',
    'I-1,Heron,2,0,,,',
    ',,,,,,',
    'I-1,Heron,x,0,1,2,3',
  );
  expect(log.totals).toEqual({ rows: 7, readings: 2, rejects: 5 });
  expect(log.readings.select('string', 'fret', 'cents', 'line').objects()).toEqual([
    { string: 1, fret: 12, cents: 1.5, line: 2 },
    { string: 1, fret: 17, cents: 2, line: 2 },
  ]);
  expect(rulesOf(log)).toEqual(['3 no-reading', '4 no-reading', '5 not-a-number', '5 not-a-number', '5 not-a-number']);
});

// Equal temperament, A4 = 440 Hz: E5 = 659.2551 Hz, E4 = 329.6276 Hz (from memory, any table of pitches).
test('readLog takes cents from hertz over the open string, the model tuning or the common one', () => {
  const columns = 'instrument,model,string,fret,hz,open_hz,open_cents';
  const row = 'I-1,Heron,1,12,659.2551,,1.5';
  const options = { models: [{ ...spec, tuningHz: [329.6276, 247, 196, 147, 110, 82] }] };
  expect(centsOf(readLog(`${columns}\nI-1,Heron,1,12,661,330,9`, 'a.csv'))[0]).toBeCloseTo(
    1200 * Math.log2(661 / 660),
    9,
  );
  const tuned = readLog(`${columns}\n${row}`, 'a.csv', options);
  expect(centsOf(tuned)[0]).toBeCloseTo(-1.5, 2);
  expect(tuned.findings.map(({ kind }) => kind)).not.toContain('assumed-tuning');
  const assumed = readLog(`${columns}\n${row}\n${row}`, 'a.csv', { models: [spec] });
  expect(centsOf(assumed)[0]).toBeCloseTo(-1.5, 2);
  expect(assumed.findings.filter(({ kind }) => kind === 'assumed-tuning')).toHaveLength(1);
  // A fourth lower than the common tuning: the assumption is wrong, and the reading says nothing.
  expect(rulesOf(readLog(`${columns}\nI-1,Heron,1,12,494,,`, 'a.csv', { models: [spec] }))).toEqual(['2 no-reference']);
});

test.each([
  ['comma', `${header}\nI-1,Heron,1,12,1.5\n`],
  ['no last line break', `${header}\nI-1,Heron,1,12,1.5`],
  ['CRLF', `${header}\r\nI-1,Heron,1,12,1.5\r\n`],
  ['CR alone', `${header}\rI-1,Heron,1,12,1.5\r`],
  ['byte order mark', `\ufeff${header}\nI-1,Heron,1,12,1.5\n`],
  ['semicolon and decimal comma', `${header.replaceAll(',', ';')}\nI-1;Heron;1;12;1,5\n`],
  ['semicolon and decimal point', `${header.replaceAll(',', ';')}\nI-1;Heron;1;12;1.5\n`],
  ['tab and decimal comma', `${header.replaceAll(',', '\t')}\nI-1\tHeron\t1\t12\t1,5\n`],
  ['decimal comma inside quotes', `${header}\nI-1,Heron,1,12,"1,5"\n`],
  ['sep= line', `sep=;\n${header.replaceAll(',', ';')}\nI-1;Heron;1;12;1.5\n`],
  ['case and spaces in the header', ' Instrument ,MODEL, String,FRET,Cents \nI-1,Heron,1,12,1.5\n'],
  ['everything quoted', '"instrument","model","string","fret","cents"\n"I-1","Heron","1","12","1.5"\n'],
  ['spaces before quotes', `"instrument", "model", "string", "fret", "cents"\n"I-1", "Heron", "1", "12", "1.5"\n`],
  ['a header of two lines', `instrument,model,string,fret,"\ncents"\nI-1,Heron,1,12,1.5\n`],
  ['blank lines', `\n\n${header}\n\n  \nI-1,Heron,1,12,1.5\n\n`],
  ['an unknown column', `luthier,${header}\nx,I-1,Heron,1,12,1.5\n`],
  [
    'a thousand columns',
    `${header},${Array.from({ length: 995 }, (_, i) => `x${i}`).join(',')}\nI-1,Heron,1,12,1.5${','.repeat(995)}`,
  ],
])('readLog reads a log with %s', (_, text) => {
  const log = readLog(text, 'bench.csv');
  expect(log.totals).toEqual({ rows: 1, readings: 1, rejects: 0 });
  expect(log.readings.select('instrument', 'model', 'string', 'fret', 'cents').objects()).toEqual([
    { instrument: 'I-1', model: 'Heron', string: 1, fret: 12, cents: 1.5 },
  ]);
});

test.each([
  [
    'Name;Value\n',
    'bench.csv: no columns instrument, model, string, fret, cents (or hz); found "Name", "Value". Name the columns in the first line, or say in a mapping file (--mapping) what the headers stand for; if it is no log, move it away or give the logs by name',
  ],
  [
    'file,line,column,found,rule,expected,text\r\n',
    'bench.csv: a list of refused rows, not a log. Keep such lists (--rejects) outside the folder of the logs',
  ],
  [
    '',
    'bench.csv: the file is empty. Export the log again: a header line, then one line a reading, separated by commas, semicolons or tabs',
  ],
  [
    '\r\n \r\n',
    'bench.csv: the file has no header. Export the log again: a header line, then one line a reading, separated by commas, semicolons or tabs',
  ],
  [
    'instrument,model,string,cents\n',
    'bench.csv: no column fret; found "instrument", "model", "string", "cents". Name the columns in the first line, or say in a mapping file (--mapping) what the headers stand for',
  ],
  [
    `${header},Cents\n`,
    'bench.csv: two columns stand for cents: "cents" (column 5) and "Cents" (column 6). Delete or rename one of them, or map the one not wanted to null in a mapping file (--mapping)',
  ],
  [
    `${header},f12\n`,
    'bench.csv: columns for single frets (f12) stand beside "fret". Write one reading a row with fret and cents, or one string a row with f12, f17 and so on, not both',
  ],
  [
    'PK\u0003\u0004\u0014\u0000',
    'bench.csv: not a log but a spreadsheet workbook or a zip archive. Save it as CSV (text) and give that file',
  ],
  [
    '\u0000\u0001\u0002\u0003',
    'bench.csv: not a text file (it holds zero bytes or control characters). Save it as CSV (text) and give that file',
  ],
])('readLog throws for a file that is no log: %j', (text, message) => {
  expect(() => readLog(text, 'bench.csv')).toThrow(message);
});
