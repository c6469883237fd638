import { expect, test } from 'vitest';
import { openSession, type OpenSession } from './open-session.ts';

/** Runs a cell and interrupts it once it says it has begun. */
async function interrupted({ session, outputs }: OpenSession, source: string): Promise<string> {
  const receive = outputs.receiver('c');
  let begun = (): void => undefined;
  const begins = new Promise<void>((resolve) => (begun = resolve));
  const outcome = session.run({ id: 'c', source: `display('begun');\n${source}` }, (bundle, shown) => {
    receive(bundle, shown);
    begun();
  });
  await begins;
  await new Promise((resolve) => setTimeout(resolve, 100));
  await session.interrupt();
  return (await outcome).status;
}

/** Has no end for practical purposes: each further letter doubles the time. */
const bomb = '/(a+)+$/.test("a".repeat(50) + "b")';

// Each way a cell can be busy: its own loops, code without loops of its own, code of modules, before and after waits.
test.each([
  ['an endless loop', 'while (true) {}'],
  ['a loop that catches everything', 'for (;;) { try { state++; } catch {} }'],
  ['a loop after a wait', 'await null; do {} while (true);'],
  ['a loop in a function', 'const spin = () => { for (;;); }; spin();'],
  ['a loop in a callback', 'await new Promise((r) => setTimeout(() => { for (;;); }, 5));'],
  ['a pending wait', 'await new Promise(() => {});'],
  ['a wait in a loop that catches everything', 'for (;;) { try { await new Promise(() => {}); } catch {} }'],
  ['a computation without a loop', bomb],
  ['a computation after a wait', `await new Promise((r) => setTimeout(r, 5)); ${bomb}`],
  [
    'a computation among timers',
    `setInterval(() => {}, 5).unref(); await Promise.all([5, 6].map((ms) => new Promise((r) => setTimeout(r, ms)))); ${bomb}`,
  ],
  ['a computation in a callback', `setTimeout(() => ${bomb}, 5); await new Promise(() => {});`],
  ['a loop of a module', "const { spin } = await import('./spin.mjs'); spin();"],
  [
    'a chain of promises',
    'const forever = async (): Promise<void> => { await null; return forever(); }; await forever();',
  ],
])('interrupt stops %s and keeps the variables', async (_name, source) => {
  const open = openSession({ 'spin.mjs': 'export function spin() { for (;;) { try { Math.sin(1); } catch {} } }' });
  await open.run('let state = 41; const keep = () => state + 1;');
  for (const time of [1, 2]) {
    expect(await interrupted(open, source), `time ${time}`).toBe('interrupted');
    expect(await open.value('typeof keep() + (keep() > 41)')).toBe('numbertrue');
  }
});

test('interrupt lets finally blocks run', async () => {
  const open = openSession();
  await open.run('let closed = 0;');
  expect(await interrupted(open, 'try { while (true) {} } finally { closed++; }')).toBe('interrupted');
  expect(await interrupted(open, 'try { await new Promise(() => {}); } finally { closed++; }')).toBe('interrupted');
  expect(await open.value('closed')).toBe('2');
});

test('interrupt with nothing running does nothing', async () => {
  const { session, value } = openSession();
  expect(await value('1')).toBe('1');
  await session.interrupt();
  expect(await value('let n = 0; for (let i = 0; i < 10; i++) n++; n')).toBe('10');
});

test('a rejection nobody handles is an error of its cell, at its line', async () => {
  const { run, value } = openSession();
  await run('const keep = 1;');
  const outcome = await run('const p =\n  Promise.reject(new Error("lost"));\n5');
  expect(outcome).toMatchObject({ status: 'error', error: { at: { line: 2 }, failure: { message: 'lost' } } });
  expect(await value('keep')).toBe('1');
});

test('an exception in a callback is an error of the running cell, or text under the cell it came from', async () => {
  const { run, value, outputs } = openSession();
  const during = await run(
    'setTimeout(() => {\n  throw new Error("in time");\n}, 5); await new Promise(() => {});',
    'a',
  );
  expect(during).toMatchObject({
    status: 'error',
    error: { at: { cell: 'a', line: 2 }, failure: { message: 'in time' } },
  });
  await run('setTimeout(() => {\n  throw new Error("late");\n}, 50); 1', 'b');
  expect(await value('await new Promise((r) => setTimeout(r, 200)); 2')).toBe('2');
  expect(outputs.byCell.get('b')).toEqual([
    { type: 'stream', name: 'stderr', text: 'After the cell had ended (line 2): Error: late\n' },
  ]);
});

test('process.exit in a cell is an error of that cell', async () => {
  const { run, value } = openSession();
  await run('const keep = 1;');
  expect(await run('\nprocess.exit(3)')).toMatchObject({
    status: 'error',
    error: { at: { line: 2 }, failure: { message: 'process.exit(3) was called; a cell cannot end its session' } },
  });
  expect(await value('keep')).toBe('1');
});

test('a session that dies is an error of its cell; the next cell runs and says that variables are gone', async () => {
  const { run, shown } = openSession();
  await run('const before = 1;');
  const outcome = await run('process.kill(process.pid, "SIGKILL"); await new Promise(() => {});');
  expect(outcome).toMatchObject({
    status: 'error',
    error: {
      message: 'cell "c": SessionEnded: the session\'s process ended by SIGKILL; what earlier cells declared is gone',
    },
  });
  expect(await run('typeof before')).toMatchObject({ status: 'ok', value: { 'text/plain': 'undefined' } });
  expect(shown()).toEqual([
    {
      type: 'stream',
      name: 'stderr',
      text: 'The session was started again: what earlier cells declared is gone. Run them again.\n',
    },
  ]);
});

test('memory exhausted is an error of its cell that says so; the next cell runs', async () => {
  const { run, value } = openSession({}, { memoryMb: 60 });
  const outcome = await run('const hoard: unknown[] = []; for (;;) hoard.push(new Array(1000).fill(hoard.length));');
  expect(outcome).toMatchObject({ status: 'error', error: { failure: { name: 'SessionEnded' } } });
  if (outcome.status === 'error') expect(outcome.error.message).toContain('the cell used up the memory');
  expect(await value('1 + 1')).toBe('2');
});

test('restart gives a session without variables', async () => {
  const { run, session, value, shown } = openSession();
  await run('const before = 1;');
  await session.restart();
  expect(await value('typeof before')).toBe('undefined');
  expect(shown()).toEqual([]);
});

test('restart ends a running cell as interrupted', async () => {
  const { run, session, value } = openSession();
  await run('1');
  const running = run('while (true) {}');
  await session.restart();
  expect(await running).toEqual({ status: 'interrupted' });
  expect(await value('2')).toBe('2');
});

test('100 MB of printed text is cut with a note, and the session goes on', async () => {
  const { run, value, shown } = openSession();
  const outcome = await run(
    'const line = "x".repeat(999); for (let i = 0; i < 100_000; i++) console.log(line); "done"',
  );
  expect(outcome).toMatchObject({ status: 'ok', value: { 'text/plain': 'done' } });
  const texts = shown().map((output) => (output.type === 'stream' ? output.text : ''));
  expect(texts[0]!.length).toBe(1_000_000);
  expect(texts[1]).toBe('\n[Printed more than 1000000 characters; the rest is not shown.]\n');
  expect(await value('1')).toBe('1');
});

test('100 MB of shown HTML is left out with a note, and the session goes on', async () => {
  const { run, value, shown } = openSession();
  const outcome = await run('display(mime.html("x".repeat(100_000_000))); display("small"); "done"');
  expect(outcome).toMatchObject({ status: 'ok', value: { 'text/plain': 'done' } });
  expect(shown()).toEqual([
    { type: 'stream', name: 'stderr', text: '[Showed more than 50 MB; the rest is not shown.]\n' },
  ]);
  expect(await value('1')).toBe('1');
});

test.each(['while a cell runs', 'between two cells'])(
  'kill -9 of the session %s is told, and the next cell runs',
  async (when) => {
    const { run, value, shown } = openSession();
    const pid = Number(await value('const before = 1; process.pid'));
    const running = when === 'between two cells' ? null : run('await new Promise(() => {})');
    await new Promise((done) => setTimeout(done, 200));
    process.kill(pid, 'SIGKILL');
    if (running)
      expect(await running).toMatchObject({
        status: 'error',
        error: {
          failure: {
            name: 'SessionEnded',
            message: "the session's process ended by SIGKILL; what earlier cells declared is gone",
          },
        },
      });
    else await new Promise((done) => setTimeout(done, 200));
    expect(await run('typeof before')).toMatchObject({ status: 'ok', value: { 'text/plain': 'undefined' } });
    expect(JSON.stringify(shown())).toContain('The session was started again: what earlier cells declared is gone.');
    expect(await value('2')).toBe('2');
  },
);

test('text written past the session reaches the running cell', async () => {
  const { run, shown } = openSession();
  await run(
    "import { execSync } from 'node:child_process'; execSync('echo from a child', { stdio: 'inherit' }); await new Promise((r) => setTimeout(r, 100));",
  );
  expect(shown()).toEqual([{ type: 'stream', name: 'stdout', text: 'from a child\n' }]);
});

test('dispose ends waiting cells and refuses others', async () => {
  const { run, session } = openSession();
  await run('1');
  const running = run('await new Promise(() => {})');
  const waiting = run('2');
  await session.dispose();
  expect([await running, await waiting]).toEqual([{ status: 'interrupted' }, { status: 'interrupted' }]);
  await expect(run('3')).rejects.toThrow('This session has been disposed of; start another');
});
