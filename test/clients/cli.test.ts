import { execFile } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { expect, test } from 'vitest';

const launcher = resolve('src/clients/upneck.mjs');

interface Ended {
  readonly code: number;
  readonly stdout: string;
  readonly stderr: string;
}

/** Calls the command as a person would, from a folder that is not the package's. */
function upneck(...args: string[]): Promise<Ended> {
  const cwd = mkdtempSync(join(tmpdir(), 'upneck-cli-'));
  return new Promise((done) => {
    execFile(process.execPath, [launcher, ...args], { cwd }, (error, stdout, stderr) => {
      done({ code: error === null ? 0 : Number(error.code), stdout, stderr });
    });
  });
}

test('upneck --help prints the commands on stdout, in 80 columns, and ends with 0', async () => {
  const { code, stdout, stderr } = await upneck('--help');
  expect({ code, stderr }).toEqual({ code: 0, stderr: '' });
  for (const name of ['import', 'standard', 'run', 'check', 'convert', 'kernel'])
    expect(stdout).toContain(`\n  ${name}`);
  expect(Math.max(...stdout.split('\n').map((line) => line.length))).toBeLessThanOrEqual(80);
});

test('upneck without a command is a wrong call: help on stderr, code 2', async () => {
  const { code, stdout, stderr } = await upneck();
  expect({ code, stdout }).toEqual({ code: 2, stdout: '' });
  expect(stderr).toContain('Usage: upneck COMMAND');
});

test('upneck names the commands it has when it does not know one', async () => {
  expect(await upneck('intonate')).toEqual({
    code: 2,
    stdout: '',
    stderr:
      'upneck: there is no command "intonate"; expected one of: import, standard, log, worksheet, control, compare, usage, run, check, convert, kernel\n',
  });
  expect((await upneck('--frob')).stderr).toContain('there is no option "--frob"');
});
