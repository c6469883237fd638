import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { dirname, join, resolve } from 'node:path';
import { afterEach, expect, test } from 'vitest';
import { companionEntry } from '../../../src/clients/vscode/find-package.ts';
import { RemoteSession, type RemoteSessionOptions } from '../../../src/clients/vscode/remote-session.ts';
import type { Outcome } from '../../../src/kernel/session.ts';

const sessions: RemoteSession[] = [];
afterEach(async () => {
  for (const session of sessions.splice(0)) await session.dispose();
});

function open(options: Partial<RemoteSessionOptions> = {}): (source: string, shown?: string[]) => Promise<Outcome> {
  const ask = () => Promise.resolve(null);
  const base = { packageFolder: resolve('.'), node: process.execPath, folder: resolve('notebooks'), values: {}, ask };
  const session = new RemoteSession({ ...base, ...options });
  sessions.push(session);
  return (source, shown = []) =>
    session.run({ id: 'k1', source }, ({ 'text/plain': text }) => shown.push((text as string).trim()));
}

const ok = (text: string) => ({ status: 'ok', value: { 'text/plain': text } });

test('RemoteSession runs cells with values, outputs and questions, and keeps what they declare', async () => {
  const run = open({ values: { parameters: { audible: 3 } }, ask: ({ text }) => Promise.resolve(`${text} Larch`) });
  const shown: string[] = [];
  expect(await run("console.log('printed'); const a = parameters.audible; await ask('Which?')", shown)).toEqual(
    ok('Which? Larch'),
  );
  expect(shown).toEqual(['printed']);
  expect(await run('a + 1')).toEqual(ok('4'));
});

test('RemoteSession interrupts an endless loop and keeps what was declared', async () => {
  const run = open();
  await run('let turns = 0;');
  const shown: string[] = [];
  const endless = run("console.log('turning'); while (true) turns += 1;", shown);
  await expect.poll(() => shown, { timeout: 10_000 }).toEqual(['turning']);
  await sessions[0]!.interrupt();
  expect(await endless).toEqual({ status: 'interrupted' });
  expect(await run('turns > 0')).toEqual(ok('true'));
});

test("RemoteSession gives a cell's failure its place", async () => {
  const run = open();
  const outcome = await run("const a = 1;\nthrow new RangeError('no');");
  const failure = { name: 'RangeError', message: 'no', at: { cell: 'k1', line: 2, column: 7 } };
  expect(outcome).toMatchObject({ status: 'error', error: { failure } });
});

test('RemoteSession ends a running cell as interrupted when it is disposed of', async () => {
  const run = open();
  const endless = run('while (true);');
  await sessions[0]!.dispose();
  expect(await endless).toEqual({ status: 'interrupted' });
});

test('RemoteSession says what to do where there is no Node, and where the package is of another version', async () => {
  const noNode = await open({ node: '/nowhere/node' })('1');
  expect(noNode).toMatchObject({
    status: 'error',
    error: {
      failure: {
        name: 'SessionEnded',
        message:
          'the session is gone: the program "/nowhere/node" was not found; install Node 20.19 or later, or put its path into the setting "upneck.node"',
      },
    },
  });
  const packageFolder = mkdtempSync(join(tmpdir(), 'upneck-version-'));
  mkdirSync(join(packageFolder, dirname(companionEntry)), { recursive: true });
  writeFileSync(
    join(packageFolder, companionEntry),
    "process.send({ type: 'ready', version: 99 }); setTimeout(() => {}, 1e6)",
  );
  const otherVersion = await open({ packageFolder })('1');
  rmSync(packageFolder, { recursive: true });
  expect(otherVersion).toMatchObject({
    error: {
      failure: {
        message: `the session is gone: the upneck package in ${packageFolder} does not fit this extension (99, expected 1); install both in the same version`,
      },
    },
  });
});
