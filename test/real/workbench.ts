import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import {
  cpSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { chromium, type BrowserContext, type FrameLocator, type Locator, type Page } from 'playwright-core';
import { expect } from 'vitest';

export interface WorkbenchOptions {
  /** Folder in which the npm package code-server is installed. */
  readonly install: string;
  readonly chromium: string;
  /** The packed extension. */
  readonly vsix: string;
  /** Files of the folder the editor opens. */
  readonly files: Readonly<Record<string, string>>;
  readonly settings?: Readonly<Record<string, unknown>>;
}

/** How long anything may take to show, in milliseconds. */
export const patience = 60_000;

/** VS Code in a headless browser, with our extension and a folder; nothing of the person's own settings is read. */
export class Workbench {
  /** The folder the editor has opened. */
  readonly folder: string;

  private constructor(
    private readonly scratch: string,
    private readonly server: ChildProcess,
    private readonly context: BrowserContext,
    readonly page: Page,
  ) {
    this.folder = join(scratch, 'folder');
  }

  static async open({ install, chromium: browser, vsix, files, settings = {} }: WorkbenchOptions): Promise<Workbench> {
    const scratch = mkdtempSync(join(tmpdir(), 'upneck-workbench-'));
    const folder = join(scratch, 'folder');
    const userFolder = join(scratch, 'data', 'data', 'User');
    for (const path of [folder, userFolder, join(scratch, 'profile')]) mkdirSync(path, { recursive: true });
    for (const [name, content] of Object.entries(files)) writeFileSync(join(folder, name), content);
    // The notebook's folder reaches the package as any folder does in which it was installed.
    mkdirSync(join(folder, 'node_modules'));
    symlinkSync(resolve('.'), join(folder, 'node_modules', 'upneck'));
    writeFileSync(join(userFolder, 'settings.json'), JSON.stringify({ ...quietSettings, ...settings }));

    const main = join(install, 'node_modules/code-server/lib/vscode/out/server-main.js');
    const common = ['--server-data-dir', join(scratch, 'data'), '--extensions-dir', join(scratch, 'extensions')];
    // No gallery is named, so that none is asked.
    const env = { ...process.env, HOME: scratch, EXTENSIONS_GALLERY: '{"serviceUrl":""}' };
    const installed = spawnSync(
      process.execPath,
      [main, ...common, '--accept-server-license-terms', '--install-extension', vsix],
      { env, encoding: 'utf8' },
    );
    if (installed.status !== 0)
      throw new Error(`The extension was not installed: ${installed.stdout}${installed.stderr}`);

    const server = spawn(
      process.execPath,
      [main, ...common, '--accept-server-license-terms', '--host', '127.0.0.1', '--port', '0'].concat(
        '--without-connection-token',
        '--telemetry-level',
        'off',
      ),
      { env, stdio: ['ignore', 'pipe', 'pipe'] },
    );
    const port = await listening(server);
    const context = await chromium.launchPersistentContext(join(scratch, 'profile'), {
      executablePath: browser,
      headless: true,
      viewport: { width: 1280, height: 1000 },
      args: [
        ...['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run'],
        ...['--disable-background-networking', '--disable-component-update', '--disable-sync'],
        '--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1',
      ],
    });
    context.setDefaultTimeout(patience);
    const page = context.pages()[0] ?? (await context.newPage());
    const workbench = new Workbench(scratch, server, context, page);
    await page.goto(`http://127.0.0.1:${port}/?folder=${encodeURIComponent(folder)}`);
    // Before the editor knows of our notebooks it would open the text of one.
    await page.waitForFunction(() =>
      ['notebooks', 'commands'].every(
        (point) => performance.getEntriesByName(`code/didHandleExtensionPoint/${point}`).length > 0,
      ),
    );
    return workbench;
  }

  /** Opens a notebook of the folder in place of whatever is open; resolves when its cells are there. */
  async openNotebook(name: string): Promise<void> {
    await this.openFile(name);
    await this.cells.first().waitFor();
  }

  /** Closes whatever is open; what was not saved is lost. */
  async closeEditors(): Promise<void> {
    const tabs = this.page.locator('.tab');
    for (let open = await tabs.count(); open > 0; open -= 1) {
      await this.command('View: Revert and Close Editor');
      await tabs.nth(open - 1).waitFor({ state: 'detached' });
    }
  }

  async openFile(name: string): Promise<void> {
    await this.closeEditors();
    await this.page.locator('.explorer-folders-view .monaco-list-row', { hasText: name }).dblclick();
    await this.page.locator('.tab.active', { hasText: name }).waitFor();
  }

  /** Carries out a command of the palette. */
  async command(title: string): Promise<void> {
    await this.page.keyboard.press('F1');
    await this.page.locator('.quick-input-widget input.input').fill(`>${title}`);
    await this.page.locator('.quick-input-list .monaco-list-row.focused', { hasText: title }).waitFor();
    await this.page.keyboard.press('Enter');
  }

  /** Answers a question of the editor's. */
  async answer(question: string, text: string): Promise<void> {
    const box = this.page.locator('.quick-input-widget', { hasText: question });
    await box.locator('input.input').fill(text);
    await this.page.keyboard.press('Enter');
  }

  /** Accepts the place a command proposes for a file. */
  async acceptFile(name: string): Promise<void> {
    const input = this.page.locator('.quick-input-widget input.input');
    await expect.poll(() => input.inputValue(), { timeout: patience }).toBe(join(this.folder, name));
    await this.page.keyboard.press('Enter');
  }

  /** Cells with code, those that are in view. */
  get cells(): Locator {
    return this.page.locator('.notebookOverlay .code-cell-row');
  }

  /** Puts the cursor at the end of a cell's program; `index` counts the cells with code. */
  async clickInto(index: number): Promise<void> {
    await this.cells.nth(index).locator('.view-line').last().click();
    await this.page.keyboard.press('Control+End');
  }

  async runCell(index: number): Promise<void> {
    await this.cells.nth(index).hover();
    await this.cells.nth(index).locator('.run-button-container .codicon-notebook-execute').click();
  }

  /** The mark that the cell has run to its end. */
  succeeded(index: number): Locator {
    return this.cells.nth(index).locator('.codicon-notebook-state-success');
  }

  /** What the cells show. */
  get outputs(): FrameLocator {
    return this.page.frameLocator('iframe.webview.ready').frameLocator('iframe#active-frame');
  }

  read(name: string): string {
    return readFileSync(join(this.folder, name), 'utf8');
  }

  /** When a file was last written, in milliseconds. */
  modified(name: string): number {
    return statSync(join(this.folder, name)).mtimeMs;
  }

  has(name: string): boolean {
    return existsSync(join(this.folder, name));
  }

  /** Keeps a picture of the window where UPNECK_PICTURES names a folder for it. */
  async picture(name: string): Promise<void> {
    const folder = process.env.UPNECK_PICTURES;
    if (folder) await this.page.screenshot({ path: join(folder, `${name}.png`) });
  }

  async close(): Promise<void> {
    await this.picture('last');
    await this.context.close();
    const gone = new Promise((done) => this.server.once('exit', done));
    this.server.kill('SIGTERM');
    await gone;
    if (process.env.UPNECK_PICTURES)
      cpSync(join(this.scratch, 'data', 'data', 'logs'), join(process.env.UPNECK_PICTURES, 'logs'), {
        recursive: true,
      });
    rmSync(this.scratch, { recursive: true, force: true, maxRetries: 3 });
  }
}

const quietSettings = {
  'security.workspace.trust.enabled': false,
  'workbench.startupEditor': 'none',
  'workbench.tips.enabled': false,
  'workbench.enableExperiments': false,
  'telemetry.telemetryLevel': 'off',
  'update.mode': 'none',
  'extensions.autoCheckUpdates': false,
  'extensions.autoUpdate': false,
  'extensions.ignoreRecommendations': true,
  'git.enabled': false,
  'files.autoSave': 'off',
  'chat.disableAIFeatures': true,
  'workbench.secondarySideBar.defaultVisibility': 'hidden',
};

function listening(server: ChildProcess): Promise<number> {
  let log = '';
  return new Promise((done, fail) => {
    const take = (chunk: Buffer): void => {
      log += chunk.toString();
      const port = /Extension host agent listening on (\d+)/.exec(log)?.[1];
      if (port !== undefined) done(Number(port));
    };
    server.stdout!.on('data', take);
    server.stderr!.on('data', take);
    server.once('exit', (code) => fail(new Error(`The editor's server ended with ${code}\n${log}`)));
  });
}
