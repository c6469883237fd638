import { readdirSync, readFileSync } from 'node:fs';
import { expect, test } from 'vitest';
import { readMapping } from '../../src/logs/mapping.ts';
import { logReader, readLog, type Log } from '../../src/logs/read-log.ts';

const spectrum = 'node_modules/csv-spectrum';
const header = 'instrument,model,string,fret,cents,note\n';
const linesOf = (log: Log): number[] => Array.from(log.readings.array('line') as Iterable<number>);
const rejectsOf = (log: Log): unknown[] => log.rejects.map(({ line, rule, text }) => [line, rule, text]);

/** Puts the columns every log needs before each record of a well-formed CSV text (quotes balanced). */
function graft(csv: string): string {
  let quoted = false;
  let lineStart = true;
  let grafted = '';
  for (const character of csv) {
    if (lineStart) grafted += grafted === '' ? 'instrument,model,string,fret,cents,' : 'I-1,Heron,1,12,0.5,';
    lineStart = false;
    if (character === '"') quoted = !quoted;
    if (character === '\n' && !quoted) lineStart = true;
    grafted += character;
  }
  return grafted;
}

// csv-spectrum 2.0.0 (BSD-2-Clause): CSV files and the cells that stand in them, to test parsers with. Every column of every file
// is read as the note of a log. Spaces around a note are dropped and an empty one is null.
const files = readdirSync(`${spectrum}/csvs`).map((name) => name.replace('.csv', ''));
test.each(files)('readLog reads every cell of csv-spectrum %s as a note', (name) => {
  const csv = readFileSync(`${spectrum}/csvs/${name}.csv`, 'utf8');
  const json = JSON.parse(readFileSync(`${spectrum}/json/${name}.json`, 'utf8')) as
    Record<string, string> | Record<string, string>[];
  // location_coordinates: the JSON is a lone object with another phone number than the CSV has.
  const rows = Array.isArray(json) ? json : [{ ...json, 'Contact Phone Number': '2095257564' }];
  const names = Object.keys(rows[0]!);
  for (const column of names) {
    const others = names.filter((other) => other !== column).map((other) => [other, null] as const);
    const mapping = readMapping(
      JSON.stringify({ columns: { ...Object.fromEntries(others), [column]: 'note' } }),
      'm.json',
    );
    const log = readLog(graft(csv), 'a.csv', { mapping });
    expect(log.rejects).toEqual([]);
    expect(log.readings.array('note')).toEqual(rows.map((row) => row[column]!.trim() || null));
  }
});

test('readLog numbers lines as an editor does, past quoted notes of several lines and blank lines', () => {
  const text = `${header}I-1,Heron,1,12,1,"two\nlines"\n\nI-1,Heron,2,12,1,\nI-1,Heron,3,12,x,"a\n\nb"\nI-1,Heron,4,12,1,\n`;
  for (const newline of ['\n', '\r\n', '\r']) {
    const log: Log = readLog(text.replaceAll('\n', newline), 'a.csv');
    expect(linesOf(log)).toEqual([2, 5, 9]);
    expect(rejectsOf(log)).toEqual([[6, 'not-a-number', `I-1,Heron,3,12,x,"a${newline}${newline}b"`]]);
    expect(log.readings.get('note', 0)).toBe(`two${newline}lines`);
  }
});

test.each([
  ['at the end of the file', 'I-1,Heron,1,12,1,"open\n', [2]],
  ['before good rows', 'I-1,Heron,1,12,1,"open\nI-1,Heron,2,12,1,\nI-1,Heron,3,12,1,\n', [2]],
  ['twice', 'I-1,Heron,1,12,1,"open\nI-1,Heron,2,12,1,\nI-1,Heron,3,12,1,"open too\nI-1,Heron,4,12,1,\n', [2, 4]],
  ['before a quoted note', 'I-1,Heron,1,12,1,"open\nI-1,Heron,2,12,1,"closed, and well"\nI-1,Heron,3,12,1,\n', [2]],
  ['before a note of several lines', 'I-1,Heron,1,12,1,"open\nI-1,Heron,2,12,1,"two\nlines"\nI-1,Heron,3,12,1,\n', [2]],
  ['and closed by a lone quote later', 'I-1,Heron,1,12,1,"open\nI-1,Heron,2,12,1,\nI-1,Heron,3,12,1,"\n', [2, 4]],
  [
    'as a ditto mark in two rows',
    'I-1,Heron,1,12,1,\nI-1,Heron,2,12,",\nI-1,Heron,3,12,",\nI-1,Heron,4,12,1,\n',
    [3, 4],
  ],
  ['in the first cell', '"I-1,Heron,1,12,1,\nI-1,Heron,2,12,1,\nI-1,Heron,3,12,1,\n', [2]],
  ['in a quoted row', '"I-1,"Heron","1","12","1",""\n"I-1","Heron","2","12","1",""\n', [2]],
  ['where the closing quote makes too few fields', 'I-1,Heron,"1,12,1,\nI-1,Heron,2,12,1,\nI-1,"Heron",3,12,1,\n', [2]],
])('readLog loses the line of a quote never closed and no other: %s', (_, rows, bad) => {
  const log = readLog(header + rows, 'a.csv');
  const lines = rows.split('\n').map((text, index) => ({ text, line: index + 2 }));
  expect(rejectsOf(log)).toEqual(bad.map((line) => [line, 'unclosed-quote', lines[line - 2]!.text]));
  const records = lines.filter(({ text, line }) => text !== '' && text !== 'lines"' && !bad.includes(line));
  expect(linesOf(log)).toEqual(records.map(({ line }) => line));
});

test('readLog keeps quotes that are text', () => {
  const notes = ['gauge 10"', `5' 11" neck`, '"said ""hi"" twice"', '"see:\nI-9,Heron,1,12,9,\nas before"'];
  const log = readLog(
    header +
      notes
        .slice(0, 4)
        .map((note) => `I-1,Heron,1,12,1,${note}\n`)
        .join(''),
    'a.csv',
  );
  expect(log.rejects).toEqual([]);
  expect(log.readings.array('note')).toEqual([
    'gauge 10"',
    `5' 11" neck`,
    'said "hi" twice',
    'see:\nI-9,Heron,1,12,9,\nas before',
  ]);
});

test('readLog refuses a well-quoted record of several lines with a wrong number of fields as one row', () => {
  const log = readLog(`${header}I-1,Heron,1,12,1,"two\nlines",\nI-1,Heron,2,12,1,\n`, 'a.csv');
  expect(rejectsOf(log)).toEqual([[2, 'field-count', 'I-1,Heron,1,12,1,"two\nlines",']]);
  expect(linesOf(log)).toEqual([4]);
});

// Code points of Windows-1252 bytes 80, 8A, 93, 96, E4: WHATWG Encoding Standard, index windows-1252.
test('readLog reads Windows-1252, UTF-8, both in one file, and UTF-16', () => {
  const bytes = Buffer.concat([
    Buffer.from(header),
    Buffer.from('I-1,Heron,1,12,1,', 'latin1'),
    Buffer.from([0x80, 0x8a, 0x93, 0x96, 0xe4, 0x0a]),
    Buffer.from('I-1,Heron,1,12,1,€ä\n', 'utf8'),
  ]);
  expect(readLog(bytes, 'a.csv').readings.array('note')).toEqual(['\u20ac\u0160\u201c\u2013\u00e4', '€ä']);
  const text = `${header}I-1,Heron,1,12,1,€ä𝄞\r\nI-1,Heron,1,17,1,x`;
  for (const wide of [Buffer.from(`\ufeff${text}`, 'utf16le'), Buffer.from(text, 'utf16le')]) {
    expect(readLog(wide, 'a.csv').readings.array('note')).toEqual(['€ä𝄞', 'x']);
    expect(readLog(Buffer.from(wide).swap16(), 'a.csv').readings.array('note')).toEqual(['€ä𝄞', 'x']);
  }
});

test('readLog gives one name one spelling, however its accents and spaces are written', () => {
  const log = readLog(`${header}Ren\u00e9,Heron,1,12,1,\n Rene\u0301 ,Heron ,1,17,1,\n`, 'a.csv');
  expect(log.readings.array('instrument')).toEqual(['Ren\u00e9', 'Ren\u00e9']);
  expect(log.findings).toEqual([]);
});

test('logReader reads several files into one table, with lines and findings across them', () => {
  const reader = logReader();
  for (const [file, rows] of [
    ['a.csv', 'I-1,Heron,1,12,1.5,\nI-1,Heron,1,17,2.5,\n'],
    ['b.csv', 'I-1,Osprey,1,12,1.5,\n'],
  ] as const) {
    const opened = reader.open(file);
    opened.push(Buffer.from(header + rows));
    opened.end();
  }
  const log = reader.finish();
  expect(log.totals).toEqual({ rows: 3, readings: 3, rejects: 0 });
  expect(log.readings.select('file', 'line').objects()).toEqual([
    { file: 'a.csv', line: 2 },
    { file: 'a.csv', line: 3 },
    { file: 'b.csv', line: 2 },
  ]);
  expect(log.findings.map(({ kind, file, line, message }) => [kind, file, line, message])).toEqual([
    ['two-models', 'b.csv', 2, 'is model "Osprey" here and "Heron" at a.csv:2'],
    ['duplicate', 'b.csv', 2, 'the same reading of fret 12 stands at a.csv:2'],
  ]);
});
