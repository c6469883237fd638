import { expect, test } from 'vitest';
import { signed } from '../../src/acoustics/signed.ts';

test('signed writes a sign, a true minus and no sign for what rounds to nothing', () => {
  expect([3.24, -0.36, 0.04, -0.04].map((cents) => signed(cents))).toEqual(['+3.2', '−0.4', '0.0', '0.0']);
});

test('signed takes decimals, and a hyphen for plain text', () => {
  expect([3.246, -0.364, -0.004].map((mm) => signed(mm, 2, '-'))).toEqual(['+3.25', '-0.36', '0.00']);
});
