import { spawnSync } from 'node:child_process';
import { accessSync, constants, existsSync } from 'node:fs';
import { delimiter, join } from 'node:path';
import { TestRunner } from 'vitest';

declare module 'vitest' {
  interface TaskMeta {
    /** On a test file: the programs it needs that were not found, each with what to do about it. */
    missing?: string[];
  }
}

/** A program outside Node that a suite runs against. */
export interface Client {
  readonly found: boolean;
  /** Where the program stands: a file, or for `vscode` the folder; empty when it was not found. */
  readonly path: string;
}

interface Search {
  /** What the program is called in a sentence. */
  readonly title: string;
  /** What to do where it is missing. */
  readonly remedy: string;
  /** Where it stands, or null. */
  readonly find: () => string | null;
}

const searches = {
  chromium: {
    title: 'Chromium',
    remedy: 'install a program "chromium" on the PATH',
    find: () => onPath('chromium'),
  },
  r: {
    title: 'R with lme4',
    remedy: 'install Rscript on the PATH and its package lme4',
    find: () => working(onPath('Rscript'), ['-e', 'library(lme4)']),
  },
  jupyter: {
    title: 'Jupyter clients for Python',
    remedy:
      'install jupyter_client, nbclient, nbconvert, jupyter_console, nbformat and jupyter_kernel_test for /usr/bin/python3',
    find: () =>
      working('/usr/bin/python3', [
        '-c',
        'import jupyter_client, nbclient, nbconvert, jupyter_console, nbformat, jupyter_kernel_test',
      ]),
  },
  vscode: {
    title: "VS Code's web server",
    remedy: 'run `node test/real/install-workbench.mjs FOLDER` and set UPNECK_VSCODE to that folder',
    find: () => {
      const folder = process.env.UPNECK_VSCODE ?? '';
      return folder !== '' && existsSync(join(folder, 'node_modules/code-server/lib/vscode/out/server-main.js'))
        ? folder
        : null;
    },
  },
  'r-spc': {
    title: "R's package spc",
    remedy: 'install Rscript on the PATH and its package spc',
    find: () => working(onPath('Rscript'), ['-e', 'library(spc)']),
  },
  pty: {
    title: 'Python with its module pty',
    remedy: 'install a program "python3" on the PATH',
    find: () => working(onPath('python3'), ['-c', 'import pty']),
  },
} satisfies Record<string, Search>;

/**
 * Declares that the test file calling it needs a program beside Node. Call it at the top of a file in test/real, and
 * give its suites `describe.skipIf(!client.found)`: without the program they are left out, and `npm test` names them at
 * its end (closing-reporter.ts).
 *
 * @throws {Error} when the program is missing and the environment variable UPNECK_REQUIRE is `all`
 */
export function needs(name: keyof typeof searches): Client {
  const { title, remedy, find }: Search = searches[name];
  const path = find();
  if (path !== null) return { found: true, path };
  const message = `${title} was not found: ${remedy}`;
  if (process.env.UPNECK_REQUIRE === 'all') throw new Error(`${message} (UPNECK_REQUIRE=all leaves nothing out)`);
  const { file } = TestRunner.getCurrentSuite();
  (file.meta.missing ??= []).push(message);
  return { found: false, path: '' };
}

/** The program of that name in the folders of PATH, or null. */
function onPath(program: string): string | null {
  for (const folder of (process.env.PATH ?? '').split(delimiter)) {
    const path = join(folder, program);
    try {
      accessSync(path, constants.X_OK);
      return path;
    } catch {
      continue;
    }
  }
  return null;
}

/** The program, if a trial call of it ends well. */
function working(path: string | null, args: string[]): string | null {
  return path !== null && spawnSync(path, args).status === 0 ? path : null;
}
