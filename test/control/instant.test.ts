import { expect, test } from 'vitest';
import { dayText, instantOf } from '../../src/control/instant.ts';

// ECMA-262, section 21.4.1.32, date time string format: what Date.parse reads, with a zone or as a date alone, is in UTC.
test.each([
  '2026',
  '2026-03',
  '2026-03-14',
  '2026-03-14T09:30Z',
  '2026-03-14T09:30:15.250Z',
  '2026-03-14T09:30:00+02:00',
  '0099-12-31',
])('instantOf agrees with Date.parse on %s', (text) => {
  expect(instantOf(text)).toBe(Date.parse(text));
});

// ISO 8601-1: week and ordinal dates. 2009-W01-1 is 29 December 2008, 2009-W53-7 is 3 January 2010 (from memory); the 60th day of
// 2026 is 1 March, of 2024 29 February.
test.each([
  ['2009-W01-1', '2008-12-29'],
  ['2009W537', '2010-01-03'],
  ['2026-060', '2026-03-01'],
  ['2024-060', '2024-02-29'],
  ['20260314', '2026-03-14'],
])('instantOf reads %s as %s', (text, day) => {
  expect(dayText(instantOf(text))).toBe(day);
});

test('instantOf takes a time without a zone as UTC, on every machine', () => {
  expect(instantOf('2026-03-14 09:30')).toBe(Date.UTC(2026, 2, 14, 9, 30));
  expect(instantOf('2026-03-14T0930')).toBe(Date.UTC(2026, 2, 14, 9, 30));
});

test('instantOf refuses another text', () => {
  expect(() => instantOf('14.3.2026')).toThrow(
    'Cannot tell the time "14.3.2026"; expected an ISO 8601 date such as 2026-03-14 or 2026-03-14T09:30',
  );
});
