import { afterAll, beforeAll, expect, test } from 'vitest';
import { TestKernel, type TestClient } from './client.ts';

// Each check is a demand of the specification "Messaging in Jupyter", version 5.4
// (https://jupyter-client.readthedocs.io/en/stable/messaging.html), in the order of its sections.

let kernel: TestKernel;
let client: TestClient;

beforeAll(async () => {
  kernel = new TestKernel();
  client = await kernel.client();
});

afterAll(() => {
  client.close();
  kernel.child.kill('SIGKILL');
});

test('a message with a wrong signature, or none, or of broken JSON is dropped, and the next one answered', async () => {
  const forged = await client.send('shell', 'kernel_info_request', {}, 'another key');
  await client.sendParts('shell', ['{"msg_id":', '{}', '{}', '{}']);
  await client.sendParts('shell', ['null', '[]', '1', '"x"']);
  const { content } = await client.reply(await client.send('shell', 'kernel_info_request', {}));
  expect(content).toMatchObject({ status: 'ok', protocol_version: '5.4', language_info: { name: 'typescript' } });
  expect(client.of(forged)).toEqual([]);
});

test('every request is framed by busy and idle, with all its output between', async () => {
  const id = await client.execute("console.log('one'); display('two'); 3");
  await client.reply(id);
  const types = client.of(id).map(({ header, content }) => content.execution_state ?? header.msg_type);
  expect(types).toEqual(['busy', 'execute_input', 'stream', 'display_data', 'execute_result', 'idle']);
  for (const type of ['kernel_info_request', 'comm_info_request', 'history_request']) {
    const asked = await client.send('shell', type, { hist_access_type: 'tail', n: 1 });
    await client.reply(asked);
    expect(client.of(asked).map(({ content }) => content.execution_state)).toEqual(['busy', 'idle']);
  }
});

test('every message is signed and names the request it answers', async () => {
  await client.run('1');
  expect(client.all.every(({ isSigned }) => isSigned)).toBe(true);
  const led = client.all.filter(({ content }) => content.execution_state !== 'starting');
  expect(led.filter(({ parent }) => typeof parent.msg_id !== 'string')).toEqual([]);
});

test('silent execution publishes nothing and does not count; without store_history there is no history', async () => {
  const { reply: before } = await client.run('1');
  const silent = await client.run("console.log('x'); const kept = 5; kept", { silent: true });
  expect(silent.published).toEqual([]);
  expect(silent.reply).toMatchObject({ status: 'ok', execution_count: before.execution_count });
  const unstored = await client.run('kept + 1', { store_history: false });
  expect(unstored.published.at(-1)).toMatchObject(['execute_result', { data: { 'text/plain': '6' } }]);
  expect(unstored.reply).toMatchObject({ execution_count: before.execution_count });
  const asked = { hist_access_type: 'tail', n: 1, output: true, raw: true };
  const { content } = await client.reply(await client.send('shell', 'history_request', asked));
  expect(content.history).toEqual([[0, before.execution_count, ['1', '1']]]);
});

test('user_expressions are evaluated after the code, each with its own error', async () => {
  const { reply } = await client.run('const x = 20', { user_expressions: { twice: '2 * x', wrong: 'nowhere' } });
  expect(reply.user_expressions).toMatchObject({
    twice: { status: 'ok', data: { 'text/plain': '40' } },
    wrong: { status: 'error', ename: 'ReferenceError' },
  });
});

test('after an error the queued cells are aborted, unless stop_on_error is false', async () => {
  const [failing, queued, info] = [
    await client.execute("await new Promise((done) => setTimeout(done, 200)); throw new RangeError('stop')"),
    await client.execute('let ran = true'),
    await client.send('shell', 'kernel_info_request', {}),
  ];
  const { content } = await client.reply(failing);
  expect(content).toMatchObject({ status: 'error', ename: 'RangeError', evalue: 'stop' });
  expect(Array.isArray(content.traceback)).toBe(true);
  const { content: aborted } = await client.reply(queued);
  // "execute_reply messages have an execution_count field regardless of their status."
  expect(aborted).toEqual({ status: 'aborted', execution_count: content.execution_count });
  expect((await client.reply(info)).content.status).toBe('ok');
  expect((await client.run('typeof ran')).published.at(-1)![1]).toMatchObject({ data: { 'text/plain': 'undefined' } });

  const [lenient, after] = [
    await client.execute("await null; throw new Error('go on')", { stop_on_error: false }),
    await client.execute('1'),
  ];
  expect((await client.reply(lenient)).content.status).toBe('error');
  expect((await client.reply(after)).content.status).toBe('ok');
});

test('a display is updated under its display_id, and output cleared', async () => {
  const { published } = await client.run("const shown = display('a'); shown.update('b'); display.clear();");
  const [, first, second, clear] = published;
  expect([first![0], second![0], clear![0]]).toEqual(['display_data', 'update_display_data', 'clear_output']);
  const { display_id: id } = first![1].transient as { display_id: string };
  expect(id).toMatch(/./);
  expect(second![1]).toMatchObject({ data: { 'text/plain': 'b' }, transient: { display_id: id } });
});

test('a cell asks over stdin the client that ran it, and no one when allow_stdin is false', async () => {
  const id = await client.execute("'Hello ' + (await ask('Name?'))", { allow_stdin: true });
  const request = await client.answer(({ header }) => header.msg_type === 'input_request');
  expect(request).toMatchObject({ parent: { msg_id: id }, content: { prompt: 'Name?', password: false } });
  await client.send('stdin', 'input_reply', { status: 'ok', value: 'Ada' });
  await client.reply(id);
  expect(client.of(id).find(({ header }) => header.msg_type === 'execute_result')!.content).toMatchObject({
    data: { 'text/plain': 'Hello Ada' },
  });
  expect((await client.run("await ask('Name?')")).reply.status).toBe('error');
});

test.each([
  ['execute_request', {}, 'field "code": found nothing, expected a text'],
  ['execute_request', { code: 5 }, 'field "code": found 5, expected a text'],
  ['execute_request', { code: '1', silent: 'no' }, 'field "silent": found "no", expected true or false'],
  ['execute_request', { code: '1', store_history: 1 }, 'field "store_history": found 1, expected true or false'],
  [
    'execute_request',
    { code: '1', user_expressions: [1] },
    'field "user_expressions": found [1], expected names with texts',
  ],
  [
    'execute_request',
    { code: '1', user_expressions: 'a' },
    'field "user_expressions": found "a", expected names with texts',
  ],
  ['complete_request', { code: 'a' }, 'field "cursor_pos": found nothing, expected a whole number from 0'],
  ['complete_request', { code: null, cursor_pos: 0 }, 'field "code": found null, expected a text'],
  ['inspect_request', { code: 'a', cursor_pos: -1 }, 'field "cursor_pos": found -1, expected a whole number from 0'],
  ['inspect_request', { code: 'a', cursor_pos: 'x' }, 'field "cursor_pos": found "x", expected a whole number from 0'],
  ['is_complete_request', { code: [] }, 'field "code": found [], expected a text'],
  ['history_request', {}, 'field "hist_access_type": found nothing, expected one of: range, tail, search'],
])('a signed %s with the content %j is answered with an error that names the field', async (type, content, message) => {
  const { reply } = await client.run('1');
  const id = await client.send('shell', type, content);
  const answer = await client.reply(id);
  expect(answer.header.msg_type).toBe(type.replace('request', 'reply'));
  expect(answer.content).toMatchObject({ status: 'error', ename: 'BadRequest', evalue: `${type}: ${message}` });
  expect(answer.content.traceback).toEqual([`BadRequest: ${type}: ${message}`]);
  expect(client.of(id).map(({ content: one }) => one.execution_state)).toEqual(['busy', 'idle']);
  // It did not count, and the next cell runs.
  expect((await client.run('2')).reply.execution_count).toBe(Number(reply.execution_count) + 1);
});

test('clear_output says whether to wait for the next output', async () => {
  const { published } = await client.run("display.clear({ wait: true }); console.log('next');");
  expect(published.slice(1)).toEqual([
    ['clear_output', { wait: true }],
    ['stream', { name: 'stdout', text: 'next\n' }],
  ]);
  expect((await client.run('display.clear()')).published[1]).toEqual(['clear_output', { wait: false }]);
});

test('a name with a question mark behind it gives a page about it, and runs nothing', async () => {
  await client.run('/** Twice a number. */\nconst twice = (n: number): number => 2 * n;');
  const { reply, published } = await client.run(' twice? ');
  expect(reply).toMatchObject({
    status: 'ok',
    payload: [
      { source: 'page', start: 0, data: { 'text/plain': 'const twice: (n: number) => number\n\nTwice a number.' } },
    ],
  });
  expect(published.map(([type]) => type)).toEqual(['execute_input']);
  const unknown = await client.run('nowhere.at.all?');
  expect(unknown.reply).toMatchObject({ status: 'ok', payload: [] });
  expect(unknown.published[1]).toEqual(['stream', { name: 'stderr', text: 'Nothing is known of "nowhere.at.all".\n' }]);
  const asked = { code: 'twice?' };
  expect((await client.reply(await client.send('shell', 'is_complete_request', asked))).content.status).toBe(
    'complete',
  );
});

test.each([
  ['for (;;) {', '  '],
  ['function f() {\n  if (x) {', '    '],
  ['if (a) {\n  b();\n} else {', '  '],
  ['if (a) {\n\tb();', '\t'],
  ['f("{", [1],', '  '],
  ['`a\n  b', ''], // what is put in would be in the text
])('code that goes on, %j, goes on with the indentation %j', async (code, indent) => {
  const { content } = await client.reply(await client.send('shell', 'is_complete_request', { code }));
  expect(content).toEqual({ status: 'incomplete', indent });
});

test('only the client that was asked can answer over stdin', async () => {
  const other = await kernel.client();
  const id = await client.execute("'It is ' + (await ask('Who?'))", { allow_stdin: true });
  await client.answer(({ header, parent }) => header.msg_type === 'input_request' && parent.msg_id === id);
  await other.send('stdin', 'input_reply', { status: 'ok', value: 'the other' });
  // Control is another socket: this gives the forged answer time to arrive.
  await other.reply(await other.send('control', 'kernel_info_request', {}));
  await new Promise((done) => setTimeout(done, 100));
  await client.send('stdin', 'input_reply', { status: 'ok', value: 'me' });
  await client.reply(id);
  expect(client.of(id).find(({ header }) => header.msg_type === 'execute_result')!.content).toMatchObject({
    data: { 'text/plain': 'It is me' },
  });
  other.close();
});

test('comms are closed at once, as nothing here listens to them', async () => {
  const id = await client.send('shell', 'comm_open', { comm_id: 'c1', target_name: 'none', data: {} });
  await client.until(() => client.of(id).some(({ content }) => content.execution_state === 'idle'));
  expect(client.of(id).map(({ header }) => header.msg_type)).toEqual(['status', 'comm_close', 'status']);
});

test('what is printed in quick succession is seen although an endless loop follows', async () => {
  const loop = await client.execute("console.log('one'); console.log('two'); console.error('three'); for (;;);");
  const printed = (): unknown[] => client.of(loop).flatMap(({ content }) => content.text ?? []);
  await client.until(() => printed().join('') === 'one\ntwo\nthree\n');
  await client.send('control', 'interrupt_request', {});
  await client.reply(loop);
});

test('inspection amid the arguments of a call tells of the function', async () => {
  const code = "'\u{1f3b8}'.padEnd( ";
  const asked = { code, cursor_pos: [...code].length, detail_level: 0 };
  const { content } = await client.reply(await client.send('shell', 'inspect_request', asked));
  expect((content.data as Record<string, string>)['text/plain']).toMatch('padEnd(maxLength: number');
});

test('control is answered while the compiler loads types for a completion', async () => {
  const own = new TestKernel();
  const asking = await own.client();
  const first = await asking.send('shell', 'complete_request', { code: 'x', cursor_pos: 1 });
  await asking.reply(first);
  const id = await asking.send('shell', 'complete_request', { code: "import { ka } from 'upneck'", cursor_pos: 11 });
  let answered = 0;
  // A kernel that waits for its compiler answers once or twice at most.
  for (
    ;
    !asking.all.some(({ header, parent }) => header.msg_type === 'complete_reply' && parent.msg_id === id);
    answered += 1
  )
    await asking.reply(await asking.send('control', 'kernel_info_request', {}));
  expect(answered).toBeGreaterThan(5);
  expect((await asking.reply(id)).content.matches).toContain('kappa');
  own.child.kill('SIGKILL');
  asking.close();
});

test('a debugger is refused, in the words of the Debug Adapter Protocol', async () => {
  const asked = { type: 'request', seq: 7, command: 'initialize', arguments: {} };
  const { content } = await client.reply(await client.send('control', 'debug_request', asked));
  expect(content).toMatchObject({ type: 'response', request_seq: 7, command: 'initialize', success: false });
});

test('positions count Unicode code points', async () => {
  const code = "'\u{1f3b8}'.toUpp";
  const asked = { code, cursor_pos: [...code].length };
  const { content } = await client.reply(await client.send('shell', 'complete_request', asked));
  expect(content).toMatchObject({ cursor_start: 4, cursor_end: 9 });
  expect(content.matches).toContain('toUpperCase');
});

test('heartbeat and control are answered while a loop runs; interrupts stop it and keep variables', async () => {
  await client.run('const before = 11');
  for (const stop of ['message', 'signal', 'signal']) {
    const loop = await client.execute('for (;;);');
    await client.until(() => client.of(loop).some(({ header }) => header.msg_type === 'execute_input'));
    expect(await client.beat('alive')).toBe('alive');
    const info = await client.send('control', 'kernel_info_request', {});
    expect((await client.reply(info)).content.status).toBe('ok');
    if (stop === 'signal') kernel.child.kill('SIGINT');
    else {
      const interrupt = await client.send('control', 'interrupt_request', {});
      expect((await client.reply(interrupt)).content).toEqual({ status: 'ok' });
    }
    expect((await client.reply(loop)).content).toMatchObject({ status: 'error', ename: 'Interrupted' });
  }
  expect((await client.run('before')).published.at(-1)![1]).toMatchObject({ data: { 'text/plain': '11' } });
});

test.each([
  ['kill -9 of the session', "process.kill(process.pid, 'SIGKILL'); await new Promise(() => {});", 'SessionEnded'],
  ['process.exit', 'process.exit(1)', 'Error'],
  ['a rejection nobody handles', "Promise.reject(new RangeError('lost')); 1", 'RangeError'],
])('after %s the cell has an error, and the next one runs', async (_what, code, name) => {
  const failed = await client.run(code);
  expect(failed.reply).toMatchObject({ status: 'error', ename: name });
  expect(failed.published.at(-1)).toMatchObject(['error', { ename: name }]);
  expect((await client.run('6 * 7')).published.at(-1)).toMatchObject([
    'execute_result',
    { data: { 'text/plain': '42' } },
  ]);
});

test('100 MB of printed text reaches the client as 1 MB and a note', async () => {
  const code = 'const line = "x".repeat(999); for (let i = 0; i < 100_000; i++) console.log(line); "done"';
  const { reply, published } = await client.run(code);
  expect(reply.status).toBe('ok');
  const text = published.map(([, { text: part }]) => (typeof part === 'string' ? part : '')).join('');
  const note = '\n[Printed more than 1000000 characters; the rest is not shown.]\n';
  expect([text.length, text.endsWith(note)]).toEqual([1_000_000 + note.length, true]);
  expect((await client.run('1')).reply.status).toBe('ok');
});

test('two clients share the variables, see all publications, and get only their own replies', async () => {
  const other = await kernel.client();
  const [mine, theirs] = [await client.execute('const shared = 1'), await other.execute('const second = 2')];
  expect((await client.reply(mine)).content.status).toBe('ok');
  expect((await other.reply(theirs)).content.status).toBe('ok');
  const ids = new Set(
    other.all.filter(({ header }) => header.msg_type === 'execute_reply').map((one) => one.parent.msg_id),
  );
  expect([...ids]).toEqual([theirs]);
  await client.until(() => client.of(theirs).length >= 3);
  expect((await other.run('shared + second')).published.at(-1)![1]).toMatchObject({ data: { 'text/plain': '3' } });
  other.close();
});

test.each([true, false])(
  'shutdown with restart %s is answered, published, and ends the process, even amid a loop',
  async (restart) => {
    const own = new TestKernel();
    const asking = await own.client();
    const loop = await asking.execute('for (;;);');
    await asking.until(() => asking.of(loop).some(({ header }) => header.msg_type === 'execute_input'));
    const id = await asking.send('control', 'shutdown_request', { restart });
    expect((await asking.reply(id)).content).toEqual({ status: 'ok', restart });
    expect(asking.of(id).map(({ header }) => header.msg_type)).toContain('shutdown_reply');
    expect(await own.exit()).toBe(0);
    asking.close();
  },
);
