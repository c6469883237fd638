import { expect, test } from 'vitest';
import { charactersIn, counted, shorten, signedTick, wrap } from '../../src/figures/label.ts';

test('signedTick keeps the digits of a tick', () => {
  expect([2.5, -5, 0].map(signedTick)).toEqual(['+2.5', '−5', '0']);
});

test('shorten keeps a name that fits and ends a longer one in an ellipsis, never inside a character', () => {
  expect(shorten('Fern', 4)).toBe('Fern');
  expect(shorten('Fern and Moss', 6)).toBe('Fern…');
  expect(shorten('🎸🎸🎸🎸', 5)).toBe('🎸🎸…');
});

test('wrap breaks between words, shortens a word without room, and loses none', () => {
  const text = 'Rise toward the 17th fret of every model that was read';
  expect(wrap(text, 20).join(' ')).toBe(text);
  expect(wrap(text, 20).every((line) => line.length <= 20)).toBe(true);
  expect(wrap('averyverylongword', 10)).toEqual(['averyvery…']);
});

test('charactersIn and counted are plain', () => {
  expect(charactersIn(620, 10)).toBe(100);
  expect([counted(1, 'dot'), counted(1800, 'dot')]).toEqual(['1 dot', '1,800 dots']);
});
