import { expect, test } from 'vitest';
import { notebookParameters } from '../../src/notebook/parameters.ts';

const bases = { notebook: '/shop/notebooks', settings: '/home/desk' };
const metadata = { parameters: { audible: 3, strict: true, shop: 'ours', logs: { path: '../data' } } };

test('notebookParameters takes defaults from the front matter; paths start from the notebook', () => {
  expect(notebookParameters(metadata, [], bases)).toEqual({
    audible: 3,
    strict: true,
    shop: 'ours',
    logs: '/shop/data',
  });
  expect(notebookParameters({}, [], bases)).toEqual({});
});

test('notebookParameters gives settings the type of their default; paths start from the working folder', () => {
  const settings = ['audible=-1.5e1', 'strict=false', 'shop=', 'logs=mine', 'logs=/abs'];
  expect(notebookParameters(metadata, settings, bases)).toEqual({
    audible: -15,
    strict: false,
    shop: '',
    logs: '/abs',
  });
});

test('notebookParameters refuses what it cannot set, and says what it expected', () => {
  const refuse =
    (setting: string): (() => unknown) =>
    () =>
      notebookParameters(metadata, [setting], bases);
  expect(refuse('audible=1,5')).toThrow('Cannot set audible to "1,5"; expected a number such as 3');
  expect(refuse('audible=')).toThrow('Cannot set audible to ""; expected a number such as 3');
  expect(refuse('strict=yes')).toThrow('Cannot set strict to "yes"; expected true or false');
  expect(refuse('toString=1')).toThrow(
    'There is no parameter "toString" to set; expected one of: audible, strict, shop, logs',
  );
  expect(refuse('=1')).toThrow('Cannot set "=1"; expected NAME=VALUE');
  expect(() => notebookParameters({ parameters: [1] }, [], bases)).toThrow(
    '"parameters" is not a list of names with defaults',
  );
  expect(() => notebookParameters({ parameters: { a: null } }, [], bases)).toThrow(
    'The parameter "a" has the default null; expected',
  );
});
