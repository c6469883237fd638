import { execFileSync } from 'node:child_process';
import { mkdtempSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { expect, onTestFinished, test } from 'vitest';
import { Intelligence } from '../../src/kernel/intelligence.ts';

/** Global names of modules in Node itself; the test runner adds others. */
function namesOfNode(): string[] {
  const program = 'console.log(JSON.stringify(Object.getOwnPropertyNames(globalThis)))';
  const text = execFileSync(process.execPath, ['--input-type=module', '-e', program], { encoding: 'utf8' });
  return JSON.parse(text) as string[];
}

/** A notebook with cells "0", "1", ... in a folder with one local module. */
function notebook(...sources: string[]): Intelligence {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-intelligence-'));
  writeFileSync(join(folder, 'near.ts'), '/** Twice a number. */\nexport const twice = (n: number): number => 2 * n;');
  const intelligence = new Intelligence({ folder, parameters: { audible: 3, logs: '/data' } });
  onTestFinished(() => intelligence.dispose());
  intelligence.update(cells(sources));
  return intelligence;
}

const cells = (sources: string[]): { id: string; source: string }[] =>
  sources.map((source, index) => ({ id: String(index), source }));

const problems = (...sources: string[]): string[] =>
  notebook(...sources)
    .problems()
    .map(({ cell, line, column, message }) => `${cell}:${line}:${column} ${message}`);

test('problems finds none in a notebook that is right, whatever its declarations', () => {
  expect(
    problems(
      "import { twice } from './near.ts'; import { table } from 'arquero'; import { kappa } from 'upneck'; import { readFileSync } from 'node:fs';",
      'const a = twice(1); let b: string | number = "x"; interface Shape { n: number } type Shapes = Shape[]; enum E { A } class C<T> { v?: T } export const q = 2; var { d, e: [f] } = { d: 1, e: [2] };',
      'const a = "now a text"; b = 4; const s: Shapes = [{ n: q }]; new C<E>().v = E.A; for (var i = 0; i < f; i++) d += i;',
      'a.toUpperCase(); i += 1; kappa.toFixed(2); await Promise.resolve(table({ x: [1] }).numRows()); readFileSync(parameters.logs, "utf8").length;',
      'display(a).update(parameters.audible + 1); progress(1, 2); mime.html("<b>"); outputFolder.length; a',
    ),
  ).toEqual([]);
});

test('problems are in the cell and line of the source', () => {
  expect(
    problems(
      'let b = "text";\nconst c = 1;',
      '\n  b = 4;\n  c = 2;',
      'later.x;\nparameters.nope',
      'const later = { x: 1 }; b.toFixed()',
    ),
  ).toEqual([
    "1:2:3 Type 'number' is not assignable to type 'string'.",
    '1:3:3 Cannot assign to a constant of an earlier cell.',
    "2:1:1 Cannot find name 'later'.",
    "2:2:12 Property 'nope' does not exist on type '{ readonly audible: number; readonly logs: string; }'.",
    "3:1:27 Property 'toFixed' does not exist on type 'string'. Did you mean 'fixed'?",
  ]);
});

test('functions and types may use what a later cell declares, code that runs at once may not', () => {
  // The line the compiler draws in one file: "used before its declaration" (TS2448) spares functions that run later.
  expect(
    problems(
      `function weigh(n: number): string { return label(factor * n); }
const twice = () => factor * 2; class Kept { own = factor; get() { return new Scale(factor); } }
let shape: Shape | undefined; const o = { factor: 1, run() { count += factor; } }; o.factor;
const given = (later: number) => later; given(1);`,
      'const factor = 3; const label = (n: number) => n.toFixed(); interface Shape { factor: number } class Scale { constructor(readonly n: number) {} } let count = 0; const later = "";',
      'weigh(2).length; twice().toFixed(); new Kept().get().n; shape = { factor }; o.run();',
    ),
  ).toEqual([]);
  expect(problems('const f = () => wrong.length;', 'const wrong: number = 5;', 'const g = () => nowhere;')).toEqual([
    "0:1:23 Property 'length' does not exist on type 'number'.",
    "2:1:17 Cannot find name 'nowhere'.",
  ]);
  expect(
    problems('later + 1;', '(() => later)();', 'class A { static s = later; }', 'const later = 1;', 'later'),
  ).toEqual(["0:1:1 Cannot find name 'later'.", "1:1:8 Cannot find name 'later'.", "2:1:22 Cannot find name 'later'."]);
});

test('problems tell what is missing at the end of a cell', () => {
  expect(problems('const a = [1,\n', 'const b = `open', '/* open')).toEqual([
    '0:2:1 Expression or comma expected.',
    '1:1:16 Unterminated template literal.',
    "2:1:8 '*/' expected.",
  ]);
});

test('update takes changed cells, and what later cells see of them', () => {
  const intelligence = notebook('const n = 1;', 'n.toFixed()');
  expect(intelligence.problems()).toEqual([]);
  intelligence.update(cells(['const n = "one";', 'n.toFixed()']));
  expect(intelligence.problems().map(({ cell }) => cell)).toEqual(['1']);
  intelligence.update(cells(['const n = "one";']));
  expect(intelligence.problems()).toEqual([]);
});

test('completions offer the names and members of earlier cells', () => {
  const intelligence = notebook(
    'const strings = [1, 2]; interface Fret { cents: number }',
    'str',
    'strings.fl',
    'later',
    'const later2 = 1',
  );
  const { items, start, end } = intelligence.completions('1', 3);
  expect(items.map(({ name }) => name)).toContain('strings');
  expect([start, end]).toEqual([0, 3]);
  const members = intelligence.completions('2', 10);
  expect(members.items.map(({ name }) => name)).toContain('flatMap');
  expect([members.start, members.end]).toEqual([8, 10]);
  expect(intelligence.completions('3', 5).items.map(({ name }) => name)).not.toContain('later2');
});

test('completions and problems know the names that Node has, and none of a browser', () => {
  const inNode = namesOfNode();
  const intelligence = notebook(
    '',
    inNode
      .filter((name) => /^[A-Z]/.test(name))
      .map((name) => `void ${name};`)
      .join('\n'),
    'GainNode; document; fetch;',
  );
  const { items } = intelligence.completions('0', 0);
  const offered = items.filter(({ kind }) => kind === 'var').map(({ name }) => name);
  expect(offered).toContain('URL');
  expect(offered.filter((name) => !inNode.includes(name))).toEqual([]);
  expect(intelligence.problems().map(({ cell, message }) => `${cell} ${message.slice(0, 27)}`)).toEqual([
    "2 Cannot find name 'GainNode'",
    "2 Cannot find name 'document'",
  ]);
});

test('callee tells of the function whose arguments are being written', () => {
  const intelligence = notebook("import { twice } from './near.ts';", 'twice( ', 'twice(1, [2, 3].map( ', '(1 + 2 )');
  expect(intelligence.callee('1', 6)).toMatchObject({ documentation: 'Twice a number.', start: 0, end: 5 });
  expect(intelligence.callee('2', 20)?.signature).toMatch('Array<number>.map');
  expect(intelligence.callee('3', 3)).toBe(null);
});

test('hover tells type and doc comment', () => {
  const intelligence = notebook(
    "import { twice } from './near.ts';",
    '/** In cents. */\nconst e = twice(2);',
    'e + twice(e)',
  );
  expect(intelligence.hover('2', 0)).toEqual({
    signature: 'const e: number',
    documentation: 'In cents.',
    start: 0,
    end: 1,
  });
  expect(intelligence.hover('2', 6)).toMatchObject({ documentation: 'Twice a number.', start: 4, end: 9 });
  expect(intelligence.hover('2', 2)).toBe(null);
  intelligence.update(cells(['nowhere.at', 'const any: any = 1; any']));
  expect(intelligence.hover('0', 9)).toBe(null);
  expect(intelligence.hover('1', 20)).toMatchObject({ signature: 'const any: any' });
});
