import fc from 'fast-check';
import { expect, test } from 'vitest';
import { isIsoDate } from '../../src/logs/iso-date.ts';

// RFC 3339, section 5.8: its examples of a time in ISO 8601.
test.each([
  '1985-04-12T23:20:50.52Z',
  '1996-12-19T16:39:57-08:00',
  '1990-12-31T23:59:60Z',
  '1990-12-31T15:59:60-08:00',
  '1937-01-01T12:00:27.87+00:20',
])('isIsoDate accepts %s of RFC 3339', (text) => {
  expect(isIsoDate(text)).toBe(true);
});

// ISO 8601 forms, from memory.
test.each([
  '2026-03-14',
  '20260314',
  '2026-03',
  '2026',
  '2026-073',
  '2026-W11-6',
  '2026W116',
  '2020-W53',
  '2024-02-29',
  '2000-02-29',
  '2024-366',
  '2026-03-14T09:30',
  '2026-03-14 09:30',
  '2026-03-14T09',
  '20260314T093000Z',
  '2026-03-14T09:30:00,5+02',
  '2026-03-14T24:00',
])('isIsoDate accepts %s', (text) => {
  expect(isIsoDate(text)).toBe(true);
});

test.each([
  '',
  '14.3.2026',
  '3/14/2026',
  '2026-3-14',
  '2026-13-01',
  '2026-00-10',
  '2026-02-30',
  '2026-04-31',
  '2023-02-29',
  '1900-02-29',
  '2023-366',
  '2026-000',
  '2021-W53',
  '2026-W11-8',
  '2026-03-14T24:01',
  '2026-03-14T25:00',
  '2026-03-14T09:60',
  '2026-03-14T09:30:61',
  '2026-03T09:30',
  '2026-03-14T',
  '2026-03-14Z',
  '2026-03-14T09:30 CET',
  '26-03-14',
  'yesterday',
])('isIsoDate refuses %j', (text) => {
  expect(isIsoDate(text)).toBe(false);
});

// ECMAScript's Date.prototype.toISOString writes ISO 8601 (ECMA-262).
test('isIsoDate accepts every date that toISOString writes, whole or its day alone', () => {
  const years = {
    min: new Date('0000-01-01T00:00:00Z'),
    max: new Date('9999-12-31T23:59:59.999Z'),
    noInvalidDate: true,
  };
  fc.assert(
    fc.property(fc.date(years), (date) => {
      expect(isIsoDate(date.toISOString())).toBe(true);
      expect(isIsoDate(date.toISOString().slice(0, 10))).toBe(true);
    }),
  );
});
