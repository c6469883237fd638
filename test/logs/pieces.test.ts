import fc from 'fast-check';
import { expect, test } from 'vitest';
import { logReader, readLog, type Log } from '../../src/logs/read-log.ts';

const header = 'instrument,model,string,fret,cents,note\r\n';
/** More than the reader looks at before the first row, so that what comes after is read piece by piece. */
const good = Array.from(
  { length: 9000 },
  (_, row) => `I-${row % 90},Heron,${(row % 6) + 1},12,0.${row % 7},é\r\n`,
).join('');
const bad = [
  'I-1,Heron,1,12,1,"two\r\nlines, ""é"""\r\n',
  'I-1,Heron,1,12,1,"open\r\n',
  'I-1,Heron,1,12,1,"closed"\r\n',
  'I-1,Heron,1,12,sharp,\r\n',
  'I-1,Heron,1,0,1,\n',
  '\r\n',
  'I-1,Heron\r\n',
  'I-1,Heron,",12,1,\r\n',
  '€,Heron,1,12,"1,5",\r\n',
  'I-1,He\u0000ron,1,12,1,\r\n',
];

function readInPieces(bytes: Buffer, cuts: readonly number[]): Log {
  const reader = logReader();
  const file = reader.open('a.csv');
  let from = 0;
  for (const to of [...cuts, bytes.length]) {
    file.push(bytes.subarray(from, to));
    from = to;
  }
  file.end();
  return reader.finish();
}

const facts = (log: Log): unknown => [log.totals, log.rejects, log.findings, log.readings.slice(8990).objects()];

test('logReader reads the same wherever the bytes are cut, and loses no row', () => {
  const tail = fc.array(fc.constantFrom(...bad), { maxLength: 12 }).map((lines) => lines.join(''));
  const cuts = fc.array(fc.integer({ min: 0, max: 600 }), { maxLength: 12 });
  fc.assert(
    fc.property(tail, cuts, fc.constantFrom('utf8', 'latin1', 'utf16le'), (end, back, encoding) => {
      const text = header + good + end;
      const bytes = encoding === 'utf16le' ? Buffer.from(`\ufeff${text}`, encoding) : Buffer.from(text, encoding);
      const places = back.map((each) => bytes.length - each).sort((a, b) => a - b);
      const whole = readLog(bytes, 'a.csv');
      expect(whole.totals.rows).toBe(whole.totals.readings + whole.totals.rejects);
      expect(facts(readInPieces(bytes, places))).toEqual(facts(whole));
    }),
    { numRuns: 30 },
  );
});

test('logReader reads the same in pieces of one byte, and when the caller uses its buffer again', () => {
  const bytes = Buffer.from(header + good + bad.join(''));
  const whole = facts(readLog(bytes, 'a.csv'));
  expect(
    facts(
      readInPieces(
        bytes,
        Array.from({ length: 700 }, (_, index) => bytes.length - 700 + index),
      ),
    ),
  ).toEqual(whole);
  const reader = logReader();
  const file = reader.open('a.csv');
  const buffer = Buffer.alloc(1000);
  for (let from = 0; from < bytes.length; from += 1000) {
    const length = bytes.copy(buffer, 0, from, from + 1000);
    file.push(buffer.subarray(0, length));
    buffer.fill(0x22);
  }
  file.end();
  expect(facts(reader.finish())).toEqual(whole);
});

test('readLog keeps rows = readings + rejects for any text under a header, and every reject holds its line as read', () => {
  const part = fc.constantFrom(
    'I-1',
    'Heron',
    '1',
    '12',
    '17',
    '0.5',
    ',',
    ',',
    ',',
    ',',
    '"',
    '\n',
    '\r\n',
    '\r',
    ' ',
    '\t',
    ';',
    '-',
    'é',
    '\u0000',
  );
  fc.assert(
    fc.property(fc.array(part, { maxLength: 120 }), (parts) => {
      const text = header + parts.join('');
      const log = readLog(text, 'a.csv');
      const { rows, readings, rejects } = log.totals;
      expect(rows).toBe(readings + rejects);
      expect([log.readings.numRows(), log.rejects.length]).toEqual([readings, rejects]);
      const lines = text.split('\n');
      for (const reject of log.rejects) {
        const raw = lines.slice(reject.line - 1).join('\n');
        expect(raw.startsWith(reject.text)).toBe(true);
      }
    }),
    { numRuns: 1500 },
  );
});
