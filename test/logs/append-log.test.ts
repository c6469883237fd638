import { Buffer } from 'node:buffer';
import { parse } from 'csv-parse/sync';
import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { formatOf, logEnd, nameNeeds, newFormat, readLine, rowLine, type RowCells } from '../../src/logs/append-log.ts';
import { readLog } from '../../src/logs/read-log.ts';

const needs = { reads: 'cents', technician: true } as const;
const needed = ['instrument', 'model', 'string', 'fret', 'cents', 'pass', 'measured_at', 'technician'];
const about = { file: 'bench.csv', models: [] };

function refusalOf(text: string | Buffer, more: Partial<Parameters<typeof formatOf>[2]> = {}): string {
  try {
    formatOf(Buffer.from(text), 'bench.csv', { ...needs, ...more });
  } catch (error) {
    return (error as Error).message;
  }
  return 'accepted';
}

describe('formatOf', () => {
  test('takes the columns in any order, with more beside them, and keeps the way the log is written', () => {
    const text =
      'Note;fret;STRING;model;instrument;mood;cents;pass;technician;measured-at\r\n;12;1;Larch 6;J1;;1,5;0;a;\r\n';
    const format = formatOf(Buffer.from(text), 'bench.csv', needs);
    expect(format).toMatchObject({ separator: ';', decimalMark: ',', lineBreak: '\r\n', width: 10 });
    const row = {
      instrument: 'J1',
      model: 'Larch 6',
      string: '2',
      fret: '17',
      cents: '-0.75',
      pass: '1',
      note: 'a; "b"',
    };
    expect(rowLine(format, row)).toBe('"a; ""b""";17;2;Larch 6;J1;;-0,75;1;;\r\n');
  });

  test.each([
    [
      'instrument,model,string,f12,f17\n',
      'bench.csv: the log has one string a row, and readings come one a row. Give the name of a new file, which gets every column',
    ],
    [
      'instrument,model,string,fret,cents\n',
      'bench.csv: the log has no column pass, measured_at, technician. Give the name of a new file, which gets every column, or add the columns to its header and its rows',
    ],
    [
      'instrument,model,string,fret,hz,pass,measured_at,technician\n',
      'bench.csv: the log holds hertz, not cents. Give --hz, or give the name of a new file',
    ],
  ])('refuses %j', (text, message) => {
    expect(refusalOf(text)).toBe(message);
  });

  test('refuses a log in cents for readings in hertz, and UTF-16', () => {
    expect(refusalOf(`${needed.join(',')}\n`, { reads: 'hz' })).toBe(
      'bench.csv: the log holds cents, not hertz. Leave out --hz, or give the name of a new file',
    );
    expect(refusalOf(Buffer.from(`\ufeff${needed.join(',')}\n`, 'utf16le'))).toBe(
      'bench.csv: the log is UTF-16 text. Save it as UTF-8, or give the name of a new file',
    );
  });

  test('needs no column technician where no technician is given', () => {
    expect(refusalOf('instrument,model,string,fret,cents,pass,measured_at\n', { technician: false })).toBe('accepted');
  });
});

/** A log's dialect and its order of columns. */
const dialects = fc.record({
  separator: fc.constantFrom(',', ';', '\t'),
  mark: fc.constantFrom('.', ','),
  lineBreak: fc.constantFrom('\n', '\r\n', '\r'),
  bom: fc.boolean(),
  columns: fc.shuffledSubarray([...needed, 'note', 'open_cents', 'saddle_mm', 'gauge_mm'], {
    minLength: 12,
    maxLength: 12,
  }),
});
const name = fc.string({ unit: 'grapheme', minLength: 1, maxLength: 12 }).filter((text) => nameNeeds(text) === null);
const tenths = (most: number): fc.Arbitrary<string> =>
  fc.integer({ min: -10 * most, max: 10 * most }).map((whole) => (whole / 10).toFixed(1));
const rows = fc.record({
  instrument: name,
  model: name,
  string: fc.integer({ min: 1, max: 12 }).map(String),
  fret: fc.integer({ min: 1, max: 36 }).map(String),
  pass: fc.integer({ min: 0, max: 9 }).map(String),
  cents: tenths(50),
  open_cents: tenths(50),
  saddle_mm: tenths(9),
  measured_at: fc.constant('2026-11-25T14:30:00Z'),
  technician: name,
  note: name,
});

// RFC 4180 for the text; csv-parse, a general CSV reader, for the cells; the log reader for what they mean.
test('rowLine writes rows that csv-parse and readLog read back, in every dialect', () => {
  fc.assert(
    fc.property(dialects, rows, rows, ({ separator, mark, lineBreak, bom, columns }, one, two) => {
      const quoted = (text: string): string => (separator === ',' && text.includes(',') ? `"${text}"` : text);
      const known: Record<string, string> = {
        ...{ instrument: 'J1', model: 'Larch 6', string: '1', fret: '12', pass: '0', cents: quoted(`1${mark}5`) },
        ...{ measured_at: '2026-11-25', gauge_mm: quoted(`0${mark}25`) },
      };
      const cells = columns.map((column) => known[column] ?? '');
      const start = `${bom ? '\ufeff' : ''}${[columns, cells].map((each) => each.join(separator)).join(lineBreak)}${lineBreak}`;
      const format = formatOf(Buffer.from(start), 'bench.csv', needs);
      const text = start + rowLine(format, one) + rowLine(format, two);

      const records: string[][] = parse(text, { bom: true, delimiter: separator, record_delimiter: lineBreak });
      expect(records).toHaveLength(4);
      for (const [at, row] of [one, two].entries())
        for (const [column, value] of Object.entries(row)) {
          const isText = ['instrument', 'model', 'technician', 'note'].includes(column);
          expect(records[at + 2]![columns.indexOf(column)]).toBe(isText ? value : value.replace('.', mark));
        }

      const { readings, rejects } = readLog(text, 'bench.csv');
      expect(rejects).toEqual([]);
      expect(readings.numRows()).toBe(3);
      for (const [at, row] of [one, two].entries()) {
        const read = (column: string): unknown => readings.get(column, at + 1);
        expect(read('cents')).toBeCloseTo(Number(row.cents) - Number(row.open_cents), 9);
        expect(read('saddleMm')).toBe(Number(row.saddle_mm) + 0);
        expect([read('string'), read('fret'), read('pass')]).toEqual([row.string, row.fret, row.pass].map(Number));
        expect([read('instrument'), read('note')]).toEqual(
          [row.instrument, row.note].map((text) => text.trim().normalize()),
        );
      }
    }),
    { seed: 1, numRuns: 300 },
  );
});

test('rowLine leaves no formula to a spreadsheet in a note', () => {
  expect(rowLine(newFormat('cents'), { note: '=1+2' })).toBe(",,,,,,,,,,'=1+2\r\n");
});

test('readLine says why import would refuse a row', () => {
  const format = newFormat('hz');
  const row: RowCells = { instrument: 'J1', model: 'M', string: '1', fret: '12', pass: '0', hz: '659.3' };
  expect(readLine(format, rowLine(format, row), about)).toMatchObject({ rule: 'no-reference' });
  // An octave above the open string is 1200 cents, the 12th fret's place: error 0. Definition of the cent.
  expect(readLine(format, rowLine(format, { ...row, hz: '660', open_hz: '330' }), about)).toMatchObject({ cents: 0 });
});

describe('logEnd', () => {
  const header = `${[...needed, 'note'].join(',')}\n`;
  const row = 'J1,Larch 6,1,12,15.2,0,2026-11-25,ann,dull';
  const endOf = (text: string): unknown => {
    const bytes = Buffer.from(text);
    return logEnd(bytes, formatOf(bytes, 'bench.csv', needs), about);
  };

  test('finds nothing to mend after a line break, and a header or a row that lacks no more than it', () => {
    expect(endOf(header + row + '\n')).toEqual({ kind: 'ended' });
    expect(endOf(header.trimEnd())).toEqual({ kind: 'unended', row: header.trimEnd(), missing: '\n' });
    expect(endOf(header + row)).toEqual({ kind: 'unended', row, missing: '\n' });
  });

  test('finds a row torn that lacks cells, or that ends in a number whose digits may be missing', () => {
    expect(endOf(`${header}J1,Larch 6,1,12,15`)).toMatchObject({ kind: 'torn', from: header.length });
    const centsLast = 'instrument,model,string,fret,pass,measured_at,technician,cents\n';
    expect(endOf(`${centsLast}J1,Larch 6,1,12,0,2026-11-25,ann,15`)).toMatchObject({ kind: 'torn' });
    expect(endOf(`${header}${row}\n${'\0'.repeat(40)}`)).toMatchObject({ kind: 'torn' });
  });
});

test('nameNeeds refuses what would run as a formula or drive a terminal', () => {
  expect(['J1', 'Lärche 6', '7'].map(nameNeeds)).toEqual([null, null, null]);
  expect(nameNeeds(' ')).toBe('a name');
  expect(['=A1', '+7', '-x', '@x'].map(nameNeeds)).toEqual(
    Array.from({ length: 4 }, () => 'a name that begins with a letter or a digit'),
  );
  expect(nameNeeds('J\x1b[2J')).toBe('a name of letters and digits, without control characters');
});
