// A real VS Code workbench: the web server of the npm package code-server, in headless Chromium, with our .vsix.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { needs } from '../real-clients.ts';
import { Workbench } from './workbench.ts';

const vscode = needs('vscode');
const browser = needs('chromium');

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

describe.skipIf(!vscode.found || !browser.found)('VS Code with our extension', () => {
  const scratch = mkdtempSync(join(tmpdir(), 'upneck-vsix-'));
  const vsix = join(scratch, 'upneck.vsix');
  const files = {
    'neck.lit.md': notebook,
    'failing.lit.md': failing,
    'endless.lit.md': endless,
    'types.lit.md': wrong,
    'broken.lit.md': '---\ntitle: [\n---\n\nText.\n',
  };
  const installed = { install: vscode.path, chromium: browser.path, vsix };
  let workbench: Workbench;

  beforeAll(async () => {
    execFileSync('npm', ['run', '-s', 'vsix', '--', vsix]);
    workbench = await Workbench.open({ ...installed, files });
  }, 120_000);

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
    await expect.poll(() => workbench.cells.first().innerText()).not.toContain('gone');
    const before = workbench.modified('neck.lit.md');
    await workbench.page.keyboard.press('Control+s');
    await expect.poll(() => workbench.modified('neck.lit.md')).toBeGreaterThan(before);
    expect(workbench.read('neck.lit.md')).toBe(notebook);

    await workbench.page.keyboard.type(' // kept');
    await workbench.page.keyboard.press('Control+s');
    // Only the cell itself is written anew, with the fence and the blank line that our printer makes.
    const edited = notebook.replace(`~~~ts\n${first}\n~~~\n`, `\`\`\`ts\n${first} // kept\n\`\`\`\n\n`);
    await expect.poll(() => workbench.read('neck.lit.md')).toBe(edited);
  });
});
