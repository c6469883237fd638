import { existsSync, mkdtempSync, readFileSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, test } from 'vitest';
import { openSession } from './open-session.ts';

test('session keeps top-level declarations of every kind', async () => {
  const { run, value } = openSession();
  await run(`
    const a: number = 1; let b = 2, c; var d = 4;
    function e(): number { return a + b; }
    class F { static g = 6; own = this.constructor.name; }
    const { h, i: { j = 10 }, ...k } = { h: 8, i: {} as { j?: number }, l: 12 };
    const [m, , n = 14, ...o] = [13, 0, undefined, 15, 16];
    enum P { Q, R = 'r' }
    namespace S { export const t = 20; }
    for (var u = 0; u < 3; u++) { var v = u * 10; }
    const w = async () => 22, x = class {};
    interface Y { z: string }
    type Z = Y;
  `);
  expect(
    await value('JSON.stringify([a, b, c, d, e(), F.g, new F().own, h, j, k, m, n, o, P.Q, P.R, S.t, u, v])'),
  ).toBe('[1,2,null,4,3,6,"F",8,10,{"l":12},13,14,[15,16],0,"r",20,3,20]');
  expect(await value('[w.name, x.name, await w()].join()')).toBe('w,x,22');
});

test('session lets a later cell declare a name again, and earlier functions see the new value', async () => {
  const { run, value } = openSession();
  await run('const rate = 1; class A { v = 1 } enum E { Old } function next() { return rate + 1; }');
  await run('let rate = 10; class A { v = 2 } enum E { New } const before = next();');
  expect(await value('[next(), before, new A().v, Object.keys(E).join()].join(" ")')).toBe('11 11 2 0,New');
  await run('function next() { return "again"; }');
  expect(await value('next()')).toBe('again');
  expect(await value('rate += 5; rate++; [rate, typeof nowhere, typeof rate].join()')).toBe('16,undefined,number');
});

test('session leaves local names, globals and property names alone', async () => {
  const { run, value } = openSession();
  await run('const a = 1, name = "top"; const Map = "ours";');
  expect(
    await value(`
      const f = ({ a: b = a, name }: { a?: number; name: string }, ...rest: number[]) => { let a = 5; return [a, b, name, rest.length]; };
      const o = { a, name, b: { a: 3 }, get c() { return a; }, ["a" + a]: 7 };
      let r = []; a: for (const name of ["x"]) { for (;;) { r.push(name); break a; } }
      try { throw 9 } catch (a) { r.push(a) }
      JSON.stringify([f({ name: "in" }, 1, 2), o, o.b.a, r, (function a() { return typeof a })(), Map])
    `),
  ).toBe('[[5,1,"in",2],{"a":1,"name":"top","b":{"a":3},"c":1,"a1":7},3,["x",9],"function","ours"]');
  // A name that shadows one of JavaScript's own does so for cells, not for the libraries they use.
  expect(await value('import { table } from "arquero"; table({ x: [1, 2] }).numRows()')).toBe('2');
});

test('session calls functions without a receiver, tags included', async () => {
  const { run, value } = openSession();
  await run(
    '"use strict"; function self(this: unknown) { return this === undefined; } const tag = function (this: unknown) { return this === undefined; };',
  );
  expect(await value('[self(), tag``, (0, self)(), [1].map(self)[0]].join()')).toBe('true,true,true,true');
});

test('session shows the value of the last expression only', async () => {
  const { value } = openSession();
  expect(await value('1; 2')).toBe('2');
  expect(await value('1; const q = 2')).toBe(undefined);
  expect(await value('')).toBe(undefined);
  expect(await value('undefined')).toBe(undefined);
  expect(await value('null')).toBe('null');
  expect(await value('"text"')).toBe('text');
  expect(await value('({ a: [1, { b: 2 }] })')).toBe('{ a: [ 1, { b: 2 } ] }');
  expect(await value('(1, 2)')).toBe('2');
  expect(await value('Promise.resolve(3)')).toBe('3');
  expect(await value('await Promise.resolve(4)')).toBe('4');
  expect(await value('export const r = 1; export default (1, 5)')).toBe('5');
  expect(await value('if (true) { 7 }')).toBe(undefined);
});

test('session resolves imports from the folder of the notebook, of every form', async () => {
  const { value } = openSession({
    'lib/one.ts': 'export const one: number = 1; export default "def"; export interface Shape { a: number }',
    'lib/data.json': '{ "n": 3 }',
    'lib/two.mjs': 'export const two = 2; export const url = import.meta.url;',
  });
  expect(
    await value(`
      const first = one; // an import counts from the top, wherever it stands
      import def, { one, one as uno, Shape } from './lib/one.ts';
      import * as all from './lib/two.mjs';
      import data from './lib/data.json' with { type: 'json' };
      import { readFileSync } from 'node:fs';
      import type { Stats } from 'node:fs';
      const { two } = await import('./lib/two.mjs');
      const shape: Shape = { a: 1 };
      [first, def, one, uno, all.two, two, data.n, JSON.parse(readFileSync('lib/data.json', 'utf8')).n, shape.a].join()
    `),
  ).toBe('1,def,1,1,2,2,3,3,1');
  expect(await value('[one, def, typeof readFileSync].join()')).toBe('1,def,function');
});

test('session loads a changed local module again when its import runs again, and what it imports', async () => {
  const { value, folder } = openSession({
    'a.ts': "import { b } from './b.ts'; export const a = `a1 ${b}`;",
    'b.ts': "export const b = 'b1';",
  });
  const cell = "import { a } from './a.ts'; a";
  expect(await value(cell)).toBe('a1 b1');
  writeFileSync(join(folder, 'b.ts'), "export const b = 'b2, changed';");
  expect(await value(cell)).toBe('a1 b2, changed');
  writeFileSync(join(folder, 'a.ts'), "import { b } from './b.ts'; export const a = `a2 now ${b}`;");
  expect(await value(cell)).toBe('a2 now b2, changed');
  expect(await value('a')).toBe('a2 now b2, changed');
});

test('session imports upneck and its libraries by name from any folder', async () => {
  const { value } = openSession();
  expect(await value("import * as upneck from 'upneck'; Object.keys(upneck).length > 0")).toBe('true');
  expect(await value("import { table } from 'arquero'; typeof table")).toBe('function');
});

test('session says what it could not find, and where the name was looked for', async () => {
  const { run, folder } = openSession({ 'near.ts': 'export const x = 1' });
  const message = async (source: string): Promise<unknown> => {
    const outcome = await run(source);
    return outcome.status === 'error' ? outcome.error.failure.message : outcome;
  };
  expect(await message("import { x } from './far.ts'")).toBe(
    `Cannot find "./far.ts" from ${folder}; expected a file that is there, or an installed package`,
  );
  expect(await message("import x from 'no-such-package'")).toBe(
    `Cannot find "no-such-package" from ${folder}; expected a file that is there, or an installed package`,
  );
  expect(await message("import { nope } from './near.ts'; nope()")).toBe(
    'nope is not defined: "./near.ts" exports nothing of that name that has a value',
  );
});

test('session errors carry cell, line and column of the source, also from functions of other cells', async () => {
  const { run } = openSession();
  await run(
    'interface Long {\n  a: string;\n}\n\nfunction check(x: number): void {\n  if (x > 1) throw new RangeError("too far");\n}',
    'first',
  );
  const outcome = await run('const limit: number = 3;\n\ncheck(\n  limit,\n);', 'second');
  if (outcome.status !== 'error') throw new Error(outcome.status);
  const { at, message, failure } = outcome.error;
  expect(at).toEqual({ cell: 'first', line: 6, column: 20 });
  expect(message).toBe('cell "first", line 6: RangeError: too far');
  expect(failure.sourceLine).toBe('  if (x > 1) throw new RangeError("too far");');
  expect(failure.stack).toEqual(['check (cell "first", line 6, column 20)', 'cell "second", line 3, column 1']);
  expect(outcome.error.cause).toMatchObject({ name: 'RangeError', message: 'too far' });
});

test('session refuses to assign constants of earlier cells, and only those', async () => {
  const { run, value } = openSession();
  await run('const key = 1; let x: number, y: number;');
  expect(await value('({ key: x, ["key"]: y = 2 } = { key: 5 } as { key: number }); [x, y].join()')).toBe('5,5');
  for (const source of ['[key = 2] = [];', '({ a: key } = { a: 1 });', '[...key] = [];', 'key++', 'for (key of [1]);'])
    expect(await run(source), source).toMatchObject({
      status: 'error',
      error: { failure: { message: '"key" is a constant and cannot be assigned; declare it with let, or again' } },
    });
  expect(await value('key')).toBe('1');
});

test('session lets a function use a name that a later cell declares, once that has run', async () => {
  const { run, value } = openSession();
  expect(await run('const area = () => width * 2;\narea()')).toMatchObject({
    status: 'error',
    error: { at: { line: 1 }, failure: { message: 'width is not defined' } },
  });
  await run('const area = () => width * 2;');
  await run('const width = 4;');
  expect(await value('area()')).toBe('8');
});

test('session words errors with the names the author wrote', async () => {
  const { run } = openSession();
  const failure = async (source: string): Promise<string> => {
    const outcome = await run(source);
    if (outcome.status !== 'error') throw new Error(outcome.status);
    const { name, message, at } = outcome.error.failure;
    return `${name}: ${message} (${at?.line}:${at?.column})`;
  };
  expect(await failure('let n: any = 1;\nn()')).toBe('TypeError: n is not a function (2:1)');
  expect(await failure('let u: any;\nu.a.b')).toBe(
    "TypeError: Cannot read properties of undefined (reading 'a') (2:3)",
  );
  expect(await failure('\n  missing += 1')).toBe('ReferenceError: missing is not defined (2:3)');
  expect(await failure('later; const later = 1;')).toBe('ReferenceError: later is not defined (1:1)');
  expect(await failure('const k = 1;\nk = 2')).toBe(
    'SyntaxError: "k" is a constant and cannot be assigned; declare it with let, or again (2:1)',
  );
  expect(await failure('const t = 1;\nconst t = 2')).toBe(
    'SyntaxError: The symbol "t" has already been declared (2:7)',
  );
  expect(await failure('f(\n')).toContain('SyntaxError: Unexpected end of file');
  expect(await failure("throw 'plain'")).toBe('Error: plain (undefined:undefined)');
});

test('a failed cell leaves earlier values as they were', async () => {
  const { run, value } = openSession();
  await run('const data = [1, 2, 3];');
  expect((await run('const data = JSON.parse("{"); ')).status).toBe('error');
  expect(await value('data.length')).toBe('3');
});

test('session runs cells one at a time, in the order of the calls', async () => {
  const { run, value } = openSession();
  await run('const order: number[] = [];');
  await Promise.all([
    run('await new Promise((r) => setTimeout(r, 50)); order.push(1)'),
    run('order.push(2)'),
    run('order.push(3)'),
  ]);
  expect(await value('order.join()')).toBe('1,2,3');
});

test('session gives the cells the values it was started with', async () => {
  const { value } = openSession({}, { values: { parameters: { audible: 3 } } });
  expect(await value('parameters.audible + 1')).toBe('4');
});

test('session makes the output folder for the first cell that names it', async () => {
  const outputFolder = join(mkdtempSync(join(tmpdir(), 'upneck-out-')), 'deep', 'out');
  const { value } = openSession({}, { values: { outputFolder } });
  await value('1');
  expect(existsSync(outputFolder)).toBe(false);
  await value("import { writeFileSync } from 'node:fs'; writeFileSync(`${outputFolder}/a.txt`, 'kept')");
  expect(readFileSync(join(outputFolder, 'a.txt'), 'utf8')).toBe('kept');
});

test('session shows displays, updates, printed text and progress in order', async () => {
  const { run, shown } = openSession();
  await run(
    'console.log("a"); console.error("b"); const d = display("one", { id: "x" }); display({ two: 2 }); d.update("three"); progress(1, 2, "Half"); "end"',
  );
  expect(shown()).toEqual([
    { type: 'stream', name: 'stdout', text: 'a\n' },
    { type: 'stream', name: 'stderr', text: 'b\n' },
    { type: 'display', bundle: { 'text/plain': 'three' }, id: 'x' },
    { type: 'display', bundle: { 'text/plain': '{ two: 2 }' }, id: 'display-1' },
  ]);
});

test('errors that are shown or printed, not thrown, tell places in cells and nothing of the kernel', async () => {
  const { run, value, shown } = openSession();
  await run('function fail() {\n  return new RangeError("high");\n}', 'first');
  const stack =
    'RangeError: high\n    at fail (cell "first", line 2, column 10)\n    at cell "c", line 1, column COLUMN';
  expect(await value('fail()')).toBe(stack.replace('COLUMN', '1'));
  await run('console.log(fail()); display(fail());');
  expect(shown()).toMatchObject([
    { text: `${stack.replace('COLUMN', '13')}\n` },
    { bundle: { 'text/plain': stack.replace('COLUMN', '30') } },
  ]);
});

test('display.clear removes what a cell has shown, at once or when it shows something else', async () => {
  const { run, shown } = openSession();
  const texts = async (source: string): Promise<unknown[]> => {
    await run(source);
    return shown().map((output) => (output.type === 'display' ? output.bundle['text/plain'] : output.type));
  };
  expect(await texts('display("a"); display.clear(); display("b");')).toEqual(['b']);
  expect(await texts('display("a"); display.clear();')).toEqual([]);
  expect(await texts('display("a"); display.clear({ wait: true });')).toEqual(['a']);
  expect(await texts('display("a"); display.clear({ wait: true }); display("b"); display("c");')).toEqual(['b', 'c']);
  expect(await texts('display("a"); display.clear({ wait: true }); console.log("b");')).toEqual(['stream']);
});

test('a display can be updated from a later cell', async () => {
  const { run, outputs } = openSession();
  await run('const d = display("waiting");', 'first');
  await run('d.update("done")', 'second');
  expect(outputs.byCell.get('first')).toEqual([{ type: 'display', bundle: { 'text/plain': 'done' }, id: 'display-1' }]);
  expect(outputs.byCell.get('second')).toEqual([]);
});
