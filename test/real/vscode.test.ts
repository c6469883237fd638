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

/** Laid out as a person would, not as our printer would: saving must not touch it. */
const notebook = `---
title:   "A neck"
parameters: { audible: 3 }
---
# A neck

Prose with *stars* and __lines__.


~~~ts
import { table } from 'arquero';
const kept = 40 + parameters.audible;
table({ model: [${JSON.stringify(evil)}, 'b'], cents: [1.5, -2] })
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

  test('runs a notebook: tables, figures, text and progress are in the page, and the file is as it was', async () => {
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
    await workbench.page.locator('.notebookOverlay .codicon-notebook-state-success').nth(2).waitFor();
    await workbench.picture('run');
    expect(await outputs.locator('progress').count()).toBe(0);
    expect(workbench.read('neck.lit.md')).toBe(notebook);
  });
});
