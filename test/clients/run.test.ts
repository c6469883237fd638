import { execFile, spawn } from 'node:child_process';
import { existsSync, mkdirSync, mkdtempSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { expect, test } from 'vitest';

const launcher = resolve('src/clients/upneck.mjs');

interface Ended {
  readonly code: number | null;
  readonly stdout: string;
  readonly stderr: string;
}

/** A folder of its own with the given files. */
function folderWith(files: Record<string, string | Uint8Array>): string {
  const folder = mkdtempSync(join(tmpdir(), 'upneck-run-'));
  for (const [name, content] of Object.entries(files)) {
    mkdirSync(dirname(join(folder, name)), { recursive: true });
    writeFileSync(join(folder, name), content);
  }
  return folder;
}

/** Calls the command as a person would. */
function upneck(cwd: string, ...args: string[]): Promise<Ended> {
  return new Promise((done) => {
    execFile(process.execPath, [launcher, ...args], { cwd }, (error, stdout, stderr) => {
      done({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

const page = (folder: string, name = 'a'): string => readFileSync(join(folder, `out/${name}.html`), 'utf8');

test('upneck run --set is refused where a cell would overrule it without a word', async () => {
  const text = '---\nparameters:\n  audible: 3\n---\nText.\n\n```ts\nparameters.audible\n```\n';
  const folder = folderWith({ 'a.lit.md': text });
  await upneck(folder, 'convert', 'a.lit.md');
  const cell = (change: (source: string) => string): void => {
    const book = JSON.parse(readFileSync(join(folder, 'a.ipynb'), 'utf8')) as { cells: { source: string[] }[] };
    book.cells[0]!.source = [change(book.cells[0]!.source.join(''))];
    writeFileSync(join(folder, 'a.ipynb'), JSON.stringify(book));
  };
  cell((source) => source.replace('audible: 3', 'audible: 4'));
  expect((await upneck(folder, 'run', 'a.ipynb', '--set', 'audible=5')).code).toBe(0);
  expect(page(folder)).toMatch(/<pre[^>]*>5</);
  cell((source) => source.replace('audible: 4', 'audible: 2 + 2'));
  const refused = await upneck(folder, 'run', 'a.ipynb', '--set', 'audible=5');
  expect(refused).toMatchObject({ code: 2 });
  expect(refused.stderr).toMatch('a.ipynb: cell 1 declares "parameters" itself, so --set would change nothing');
  expect((await upneck(folder, 'run', 'a.ipynb')).code).toBe(0);
  expect(page(folder)).toMatch(/<pre[^>]*>4</);
});

test('upneck run writes one page with prose and outputs, and prints the summary cells only', async () => {
  const folder = folderWith({
    'books/a.lit.md':
      '---\ntitle: One question\n---\nWhat is *asked*?\n\n```ts\nconst sum: number = 1 + 2;\nconsole.log("loud");\nsum\n```\n\n```ts {.summary}\n`the sum is ${sum}`\n```\n',
  });
  expect(await upneck(folder, 'run', 'books/a.lit.md')).toEqual({
    code: 0,
    stdout: 'the sum is 3\n',
    stderr: 'Wrote out/a.html\n',
  });
  const html = page(folder);
  expect(html).toContain('<title>One question</title>');
  expect(html).toContain('<h1>One question</h1>');
  expect(html).toContain('<p>What is <em>asked</em>?</p>');
  expect(html).toContain('<pre class="printed stdout">loud\n</pre>');
  expect(html).toContain('<pre class="shown value">3</pre>');
});

test('upneck run gives declared parameters their types, and paths their folders', async () => {
  const folder = folderWith({
    'books/a.lit.md':
      '---\nparameters:\n  audible: 3\n  strict: false\n  shop: ours\n  logs: { path: ../data }\n---\n```ts {.summary}\nJSON.stringify({ ...parameters, outputFolder })\n```\n',
  });
  const settings = ['--set', 'audible=2.5', '--set', 'strict=true', '--set', 'shop=a=b'];
  const plain = await upneck(folder, 'run', 'books/a.lit.md', ...settings, '--out', 'pages');
  expect(JSON.parse(plain.stdout)).toEqual({
    audible: 2.5,
    strict: true,
    shop: 'a=b',
    logs: join(folder, 'data'),
    outputFolder: join(folder, 'pages'),
  });
  const moved = await upneck(folder, 'run', 'books/a.lit.md', '--set', 'logs=mine');
  expect((JSON.parse(moved.stdout) as { logs: string }).logs).toBe(join(folder, 'mine'));
});

test('upneck run refuses wrong calls with code 2 and says what it expected', async () => {
  const folder = folderWith({
    'a.lit.md': '---\nparameters:\n  audible: 3\n---\n',
    'none.lit.md': 'Prose.\n',
  });
  const last = '"upneck run --help" shows how to call it.\n';
  const cases: [string[], string][] = [
    [['a.lit.md', '--set', 'audble=2'], 'There is no parameter "audble" to set; expected one of: audible'],
    [['none.lit.md', '--set', 'x=2'], 'There is no parameter "x" to set; this notebook declares none'],
    [['a.lit.md', '--set', 'audible=loud'], 'Cannot set audible to "loud"; expected a number such as 3'],
    [['a.lit.md', '--set', 'audible'], 'Cannot set "audible"; expected NAME=VALUE'],
    [['b.lit.md'], 'there is no file "b.lit.md"; expected a notebook (*.lit.md or *.ipynb)'],
    [[], 'found 0 notebooks; expected one'],
  ];
  for (const [args, message] of cases) {
    const ended = await upneck(folder, 'run', ...args);
    expect(ended).toEqual({ code: 2, stdout: '', stderr: `upneck run: ${message}\n${last}` });
  }
  const unknown = await upneck(folder, 'run', 'a.lit.md', '--frob');
  expect(unknown.code).toBe(2);
  expect(unknown.stderr).toContain("Unknown option '--frob'");
  expect(existsSync(join(folder, 'out'))).toBe(false);
});

test('upneck run shows where a cell failed, in the lines of the file, and keeps the earlier page', async () => {
  const folder = folderWith({ 'a.lit.md': 'Prose.\n\n```ts\n1\n```\n' });
  await upneck(folder, 'run', 'a.lit.md');
  const before = page(folder);
  const failing =
    'Prose.\n\n```ts\n1\n```\n\nMore.\n\n```ts\nconst f = () => {\n  throw new RangeError("too sharp");\n};\nf();\n```\n';
  writeFileSync(join(folder, 'a.lit.md'), failing);
  const ended = await upneck(folder, 'run', 'a.lit.md');
  // The throw stands on line 11 of the file, the second line of its cell; column 9 is the `new`.
  expect(ended).toEqual({
    code: 1,
    stdout: '',
    stderr:
      'upneck run: a.lit.md:11:9: cell 2, line 2\nRangeError: too sharp\n\n    throw new RangeError("too sharp");\n          ^\n' +
      'out/a.failed.html shows how far it came; a.html was not written.\n',
  });
  expect(page(folder)).toBe(before);
  expect(page(folder, 'a.failed')).toContain('RangeError: too sharp');
  writeFileSync(join(folder, 'a.lit.md'), 'Fine.\n');
  await upneck(folder, 'run', 'a.lit.md');
  expect(readdirSync(join(folder, 'out'))).toEqual(['a.html']);
});

test('upneck run shows a syntax error at its line', async () => {
  const folder = folderWith({ 'a.lit.md': '# T\n\n```ts\nconst a = 1;\nconst b = = 2;\n```\n' });
  const { code, stderr } = await upneck(folder, 'run', 'a.lit.md');
  expect(code).toBe(1);
  expect(stderr).toContain(
    'upneck run: a.lit.md:5:11: cell 1, line 2\nSyntaxError: Unexpected "="\n\n  const b = = 2;\n            ^\n',
  );
});

test('upneck run refuses files that are no notebooks', async () => {
  const folder = folderWith({
    'binary.lit.md': new Uint8Array([0x89, 0x50, 0x4e, 0x47, 0xff, 0xfe]),
    'nul.lit.md': 'a\0b',
    'yaml.lit.md': '---\ntitle: [\n---\n',
    'twice.lit.md': '```ts {#a}\n1\n```\n\n```ts {#a}\n2\n```\n',
  });
  expect((await upneck(folder, 'run', 'binary.lit.md')).stderr).toContain('binary.lit.md is not UTF-8 text');
  expect((await upneck(folder, 'run', 'nul.lit.md')).stderr).toContain('nul.lit.md is not text');
  expect((await upneck(folder, 'run', 'yaml.lit.md')).stderr).toMatch(
    /yaml\.lit\.md:\d+: The front matter is not YAML/,
  );
  expect(await upneck(folder, 'run', 'twice.lit.md')).toEqual({
    code: 1,
    stdout: '',
    stderr: 'upneck run: twice.lit.md:6: Two cells have the id "a"; expected each id once\n',
  });
});

test('upneck run keeps text of data text, whatever it looks like', async () => {
  const folder = folderWith({
    'a.lit.md':
      '---\ntitle: "<img src=x onerror=alert(1)>"\n---\n```ts\nimport { table } from "arquero";\nconst name = "<img src=x onerror=alert(2)>";\ndisplay(table({ [name]: [name] }));\ndisplay(name);\nconsole.log(name);\nname\n```\n\n<img src=x onerror=alert(3)>\n\n[link](javascript:alert(4))\n',
  });
  expect((await upneck(folder, 'run', 'a.lit.md')).code).toBe(0);
  const html = page(folder);
  expect(html).not.toMatch(/<img|href="javascript/);
  expect(html).toContain('<meta http-equiv="Content-Security-Policy" content="default-src \'none\'');
});

test('upneck run takes pictures beside the notebook into the page', async () => {
  const folder = folderWith({
    'books/a.lit.md': '![a dot](pictures/dot.png)\n',
    'books/pictures/dot.png': new Uint8Array([137, 80, 78, 71, 13, 10, 26, 10]),
  });
  expect((await upneck(folder, 'run', 'books/a.lit.md')).code).toBe(0);
  expect(page(folder)).toContain('<img src="data:image/png;base64,iVBORw0KGgo=" alt="a dot"');
});

test('upneck run leaves nothing behind when it is stopped in an endless loop', async () => {
  const folder = folderWith({ 'a.lit.md': '```ts\nwhile (true) {}\n```\n' });
  const child = spawn(process.execPath, [launcher, 'run', 'a.lit.md'], { cwd: folder });
  let stderr = '';
  child.stderr.on('data', (chunk: Buffer) => (stderr += chunk.toString()));
  setTimeout(() => child.kill('SIGINT'), 1500);
  const code = await new Promise((done) => child.on('close', done));
  expect({ code, stderr }).toEqual({ code: 1, stderr: 'upneck run: stopped at cell 1 of 1; no page was written\n' });
  expect(readdirSync(join(folder, 'out'))).toEqual([]);
});
