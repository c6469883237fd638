// A real VS Code workbench: the web server of the npm package code-server, in headless Chromium, with our .vsix.
import { execFile, execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { promisify } from 'node:util';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { needs } from '../real-clients.ts';
import { patience, Workbench } from './workbench.ts';

const vscode = needs('vscode');
const browser = needs('chromium');
/** For what the editor does in its own time; a busy machine takes long. */
const eventually = <T>(read: () => T) => expect.poll(read, { timeout: patience });

const evil = '<img src=x onerror="document.title=1">';

const first = `import { table } from 'arquero';
const kept = 40 + parameters.audible;
table({ model: [${JSON.stringify(evil)}, 'b'], cents: [1.5, -2] })`;

/** Laid out as a person would, not as our printer would: saving must not touch it. */
const notebook = `---
title:   "A neck"
parameters: { audible: 3 }
---
# A neck

Prose with *stars* and __lines__.


~~~ts
${first}
~~~
+ a list
+ of two
\`\`\`ts {#figure .hidden}
progress(1, 2, 'Half');
mime.svg('<svg xmlns="http://www.w3.org/2000/svg" id="rise" width="120" height="40"><text y="20">rise</text></svg>', 'a rise')
\`\`\`

\`\`\`ts
console.log('printed', kept);
kept
\`\`\`
last line, no newline`;

const failing = `# Errors

\`\`\`ts
const three = 3;
\`\`\`

\`\`\`ts
const four = three + 1;
throw new RangeError(\`found \${four}\`);
\`\`\`

\`\`\`ts
'not reached'
\`\`\`
`;

const endless = `# Endless

\`\`\`ts
let turns = 0;
const before = 'still there';
\`\`\`

\`\`\`ts
console.log('turning');
progress(1, 4, 'Turns');
while (true) turns += 1;
\`\`\`

\`\`\`ts
\`\${before}, \${turns > 0 ? 'and it turned' : 'but it never ran'}\`
\`\`\`
`;

const wrong = `# Types

\`\`\`ts
const cents = 1.5;
\`\`\`

\`\`\`ts
const text: string = cents;
\`\`\`
`;

const displays = `# Displays

\`\`\`ts
const place = display('first', { id: 'place' });
\`\`\`

\`\`\`ts
place.update('after the cell');
display('second');
console.log('third');
const timer = setTimeout(() => display(mime.html('<p>a late figure</p>')), 500);
\`\`\`

\`\`\`ts
display('cleared');
display.clear();
display('kept');
\`\`\`
`;

const ending = `# Ending

\`\`\`ts
process.kill(process.pid, 'SIGKILL');
\`\`\`

\`\`\`ts
'a new one'
\`\`\`
`;

const writing = `# Writes a file

\`\`\`ts
import { writeFileSync } from 'node:fs';
writeFileSync('written.txt', 'a cell ran');
const text: string = 1;
\`\`\`
`;

describe.skipIf(!vscode.found || !browser.found)('VS Code with our extension', { timeout: 3 * patience }, () => {
  const files = {
    'neck.lit.md': notebook,
    'failing.lit.md': failing,
    'endless.lit.md': endless,
    'displays.lit.md': displays,
    'ending.lit.md': ending,
    'types.lit.md': wrong,
    'house-standard.lit.md': readFileSync('notebooks/house-standard.lit.md', 'utf8'),
    'broken.lit.md': '---\ntitle: [\n---\n\nText.\n',
  };
  let scratch: string;
  let open: (files: Record<string, string>, settings?: Record<string, unknown>) => Promise<Workbench>;
  let workbench: Workbench;

  beforeAll(async () => {
    scratch = mkdtempSync(join(tmpdir(), 'upneck-vsix-'));
    const vsix = join(scratch, 'upneck.vsix');
    execFileSync('npm', ['run', '-s', 'vsix', '--', vsix]);
    const installed = { install: vscode.path, chromium: browser.path, vsix };
    open = (files, settings = {}) => Workbench.open({ ...installed, files, settings });
    workbench = await open(files);
  }, 3 * patience);

  afterAll(async () => {
    await workbench?.close();
    rmSync(scratch, { recursive: true });
  });

  test('runs a notebook: tables, figures and text are in the page, and the file is as it was', async () => {
    await workbench.openNotebook('neck.lit.md');
    await workbench.command('Notebook: Run All');
    const { outputs } = workbench;
    await outputs.locator('svg#rise').waitFor();
    expect(await outputs.locator('svg#rise text').textContent()).toBe('rise');
    expect(await outputs.locator('table caption').textContent()).toBe('2 rows');
    // A name from data stays text.
    expect(await outputs.locator('td').first().textContent()).toBe(evil);
    expect(await outputs.locator('table img').count()).toBe(0);
    await outputs.getByText('printed 43').waitFor();
    await workbench.succeeded(2).waitFor();
    await workbench.picture('run');
    expect(workbench.read('neck.lit.md')).toBe(notebook);
  });

  test('interrupts an endless loop that reports progress, and earlier variables are still there', async () => {
    await workbench.openNotebook('endless.lit.md');
    await workbench.command('Notebook: Run All');
    await workbench.succeeded(0).waitFor();
    await workbench.cells.nth(1).locator('.codicon-notebook-state-executing').waitFor();
    await workbench.outputs.getByText('turning').waitFor();
    const progress = workbench.cells.nth(1).getByText('Turns: 25 %');
    await progress.waitFor();
    await workbench.page.getByRole('button', { name: 'Interrupt' }).click();
    await workbench.cells.nth(1).locator('.codicon-notebook-state-error').waitFor();
    await workbench.outputs.getByText('Stopped.').waitFor();
    await progress.waitFor({ state: 'detached' });
    // What was queued behind the interrupted cell was not run.
    expect(await workbench.cells.nth(2).locator('[class*=codicon-notebook-state]').count()).toBe(0);
    await workbench.runCell(2);
    await workbench.outputs.getByText('still there, and it turned').waitFor();
    await workbench.picture('interrupted');
  });

  test('shows an error at its line, and runs no cell behind it', async () => {
    await workbench.openNotebook('failing.lit.md');
    await workbench.command('Notebook: Run All');
    await workbench.cells.nth(1).locator('.codicon-notebook-state-error').waitFor();
    await workbench.outputs.getByText('RangeError: found 4').first().waitFor();
    await workbench.outputs.getByText('cell 2, line 2, column 7').first().waitFor();
    // The line itself is marked: the second of the cell, on which the error was thrown.
    const mark = workbench.cells.nth(1).locator('.squiggly-error').first();
    await mark.waitFor();
    const line = await workbench.cells.nth(1).locator('.view-line', { hasText: 'RangeError' }).boundingBox();
    const marked = await mark.boundingBox();
    expect(marked!.y).toBeGreaterThanOrEqual(line!.y - 1);
    expect(marked!.y).toBeLessThan(line!.y + line!.height);
    expect(await workbench.cells.nth(2).locator('[class*=codicon-notebook-state]').count()).toBe(0);
    await workbench.picture('error');
  });

  test('saves what was edited and undone byte for byte, and an edit without touching anything else', async () => {
    await workbench.openNotebook('neck.lit.md');
    await workbench.clickInto(0);
    await workbench.page.keyboard.type('gone');
    await workbench.page.locator('.tab.active.dirty').waitFor();
    await workbench.page.keyboard.press('Control+z');
    await eventually(() => workbench.cells.first().innerText()).not.toContain('gone');
    const before = workbench.modified('neck.lit.md');
    await workbench.page.keyboard.press('Control+s');
    await eventually(() => workbench.modified('neck.lit.md')).toBeGreaterThan(before);
    expect(workbench.read('neck.lit.md')).toBe(notebook);

    await workbench.page.keyboard.type(' // kept');
    await workbench.page.keyboard.press('Control+s');
    // Only the cell itself is written anew, with the fence and the blank line that our printer makes.
    const edited = notebook.replace(`~~~ts\n${first}\n~~~\n`, `\`\`\`ts\n${first} // kept\n\`\`\`\n\n`);
    await eventually(() => workbench.read('neck.lit.md')).toBe(edited);
  });

  test('puts updates where they belong, also from later cells and timers, and clears what a cell clears', async () => {
    await workbench.openNotebook('displays.lit.md');
    await workbench.command('Notebook: Run All');
    const { outputs } = workbench;
    await outputs.getByText('a late figure').waitFor();
    const shown = async (): Promise<string[]> =>
      (await outputs.locator('.output_container').allInnerTexts()).map((text) => text.trim()).sort();
    const others = ['kept', 'second', 'third'];
    await eventually(shown).toEqual(['a late figure', 'after the cell', ...others]);
    // Run again, a cell shows what it shows now, and no later update reaches for what is gone.
    await workbench.runCell(0);
    await eventually(shown).toEqual(['a late figure', 'first', ...others]);
    await workbench.runCell(1);
    await eventually(shown).toEqual(['a late figure', 'after the cell', ...others]);
  });

  test('marks a cell that ends its own session, and runs the next in another', async () => {
    await workbench.openNotebook('ending.lit.md');
    await workbench.runCell(0);
    await workbench.outputs.getByText("the session's process ended by SIGKILL").first().waitFor();
    await workbench.runCell(1);
    await workbench.outputs.getByText('what earlier cells declared is gone. Run them again').waitFor();
    await workbench.outputs.getByText('a new one', { exact: true }).waitFor();
  });

  test('restarts the session while a cell runs: the cell ends, and variables are gone', async () => {
    await workbench.openNotebook('endless.lit.md');
    await workbench.command('Notebook: Run All');
    await workbench.cells.nth(1).getByText('Turns: 25 %').waitFor();
    await workbench.command('Upneck: Restart the Session');
    await workbench.cells.nth(1).locator('.codicon-notebook-state-error').waitFor();
    await workbench.runCell(2);
    await workbench.outputs.getByText('ReferenceError: before is not defined').first().waitFor();
  });

  test('marks what TypeScript finds, and completes and explains names of earlier cells', async () => {
    await workbench.openNotebook('types.lit.md');
    const second = workbench.cells.nth(1);
    await second.locator('.squiggly-error').waitFor();
    await workbench.command('View: Toggle Problems');
    await workbench.page.getByText("Type 'number' is not assignable to type 'string'").first().waitFor();
    await workbench.command('View: Toggle Problems');

    await second.locator('.view-line span span', { hasText: 'cents' }).last().hover();
    await workbench.page.locator('.monaco-hover', { hasText: 'const cents: 1.5' }).waitFor();

    await workbench.clickInto(1);
    await workbench.page.keyboard.type('\ncents.toFi');
    await workbench.page.locator('.suggest-widget .monaco-list-row', { hasText: 'toFixed' }).waitFor();
    await workbench.picture('types');
  });

  test('writes a page and an .ipynb file of what the notebook shows', async () => {
    await workbench.openNotebook('neck.lit.md');
    await workbench.command('Notebook: Run All');
    await workbench.succeeded(2).waitFor();
    await workbench.command('Upneck: Save as a Web Page (HTML)...');
    await workbench.acceptFile('neck.html');
    await eventually(() => workbench.has('neck.html')).toBe(true);
    const page = workbench.read('neck.html');
    expect(page).toContain('id="rise"');
    expect(page).toContain('<caption>2 rows</caption>');
    expect(page).not.toContain(evil);

    await workbench.command('Upneck: Save as .ipynb...');
    await workbench.acceptFile('neck.ipynb');
    await eventually(() => workbench.has('neck.ipynb')).toBe(true);
    const { cells } = JSON.parse(workbench.read('neck.ipynb')) as { cells: { outputs?: { data?: object }[] }[] };
    const types = cells.flatMap(({ outputs }) => outputs ?? []).map(({ data }) => Object.keys(data ?? {}).sort());
    expect(types).toEqual([
      ['application/json', 'text/html', 'text/plain'],
      ['image/svg+xml', 'text/plain'],
      [],
      ['text/plain'],
    ]);
  });

  test('asks the person what a cell asks, and begins a notebook', async () => {
    await workbench.closeEditors();
    await workbench.command('Upneck: New Notebook');
    await workbench.cells.first().waitFor();
    await workbench.clickInto(0);
    await workbench.page.keyboard.type("(await ask('Which model?')).length");
    await workbench.runCell(0);
    await workbench.answer('Which model?', 'Larch 6');
    await workbench.outputs.getByText('7', { exact: true }).waitFor();
  });

  test('runs the house standard with parameters set by hand, to the page the command line writes', async () => {
    const out = join(scratch, 'out');
    const name = 'house-standard.lit.md';
    const byCommand = promisify(execFile)('node', ['src/clients/upneck.mjs', 'run', `notebooks/${name}`, '--out', out]);
    await workbench.openNotebook(name);
    for (const [parameter, value] of [
      ['logs', resolve('data/demo')],
      ['usage', resolve('shared/usage/whole-neck.csv')],
    ] as const) {
      await workbench.command('Upneck: Set a Parameter...');
      await workbench.page.locator('.quick-input-list .monaco-list-row', { hasText: parameter }).first().click();
      await workbench.answer(`Value of ${parameter}`, value);
    }
    await workbench.command('Notebook: Run All');
    await workbench.page.getByRole('button', { name: 'Interrupt' }).waitFor();
    await workbench.page.getByRole('button', { name: 'Run All' }).waitFor({ timeout: 2 * patience });
    await workbench.outputs.locator('table').first().waitFor();
    await workbench.picture('house-standard');
    await workbench.command('Upneck: Save as a Web Page (HTML)...');
    await workbench.acceptFile('house-standard.html');
    await eventually(() => workbench.has('house-standard.html')).toBe(true);
    await byCommand;
    expect(workbench.read('house-standard.html')).toBe(readFileSync(join(out, 'house-standard.html'), 'utf8'));
  });

  test('does not open a file it cannot read, and leaves it as it is', async () => {
    await workbench.openFile('broken.lit.md');
    await workbench.page
      .getByText(/Line \d+: .*front matter/)
      .first()
      .waitFor();
    await workbench.picture('broken');
    expect(workbench.read('broken.lit.md')).toBe(files['broken.lit.md']);
  });

  test('runs nothing in a folder that is not trusted, until it is', async () => {
    const settings = {
      'security.workspace.trust.enabled': true,
      'security.workspace.trust.startupPrompt': 'never',
    };
    const untrusted = await open({ 'write.lit.md': writing }, settings);
    try {
      await untrusted.openNotebook('write.lit.md');
      await untrusted.runCell(0);
      const dialog = untrusted.page.getByRole('dialog', { name: 'Do you trust the authors' });
      await dialog.waitFor();
      await untrusted.picture('untrusted');
      await dialog.getByRole('button', { name: 'Cancel' }).click();
      // As long as the same cell takes once its folder is trusted, and more.
      await untrusted.page.waitForTimeout(5000);
      expect(untrusted.has('written.txt')).toBe(false);
      expect(await untrusted.cells.locator('.squiggly-error').count()).toBe(0);

      await untrusted.runCell(0);
      await dialog.getByRole('button', { name: 'Trust Folder' }).click();
      await untrusted.succeeded(0).waitFor();
      expect(untrusted.read('written.txt')).toBe('a cell ran');
      await untrusted.cells.locator('.squiggly-error').waitFor();
    } finally {
      await untrusted.close();
    }
  });
});
