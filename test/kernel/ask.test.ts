import { expect, test } from 'vitest';
import type { Prompt } from '../../src/kernel/protocol.ts';
import { openSession } from './open-session.ts';

test('ask puts the question to the person and gives the cell the answer', async () => {
  const asked: Prompt[] = [];
  const { value } = openSession(
    {},
    { ask: (prompt) => (asked.push(prompt), Promise.resolve(prompt.isSecret ? 'hush' : 'Larch')) },
  );
  expect(await value("const model = await ask('Which model?'); model + '!'")).toBe('Larch!');
  expect(await value("[await ask('Key?', { secret: true }), await ask('Again?')].join()")).toBe('hush,Larch');
  expect(asked).toEqual([
    { text: 'Which model?', isSecret: false },
    { text: 'Key?', isSecret: true },
    { text: 'Again?', isSecret: false },
  ]);
});

test('questions asked at once each get their own answer', async () => {
  const { value } = openSession(
    {},
    {
      ask: ({ text }) => new Promise((done) => setTimeout(() => done(`<${text}>`), text === 'slow' ? 100 : 1)),
    },
  );
  expect(await value("(await Promise.all([ask('slow'), ask('fast')])).join()")).toBe('<slow>,<fast>');
});

test.each([
  ['without anyone to ask', undefined],
  ['when nobody answers', () => Promise.resolve(null)],
])('ask fails at its line %s, and says what to do', async (_when, answer) => {
  const { run, value } = openSession({}, answer ? { ask: answer } : {});
  expect(await run("const kept = 1;\nawait ask('Which model?')")).toMatchObject({
    status: 'error',
    error: {
      at: { line: 2 },
      failure: { message: 'Nobody is there to answer "Which model?"; give the value as a parameter' },
    },
  });
  expect(await value('kept')).toBe('1');
});

test('what was printed before a question is shown before it, and an interrupt ends the wait for an answer', async () => {
  let begun = (): void => undefined;
  const begins = new Promise<void>((resolve) => (begun = resolve));
  const { run, session, shown, value } = openSession(
    {},
    { ask: () => (begun(), new Promise<string | null>(() => undefined)) },
  );
  const running = run("let before = 1; console.log('Think first.'); await ask('Well?')");
  await begins;
  expect(shown()).toEqual([{ type: 'stream', name: 'stdout', text: 'Think first.\n' }]);
  await session.interrupt();
  expect(await running).toEqual({ status: 'interrupted' });
  expect(await value('before')).toBe('1');
});
