import { spawnSync } from 'node:child_process';
import { mkdtempSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { expect, test } from 'vitest';
import { needs } from '../real-clients.ts';

const client = needs('jupyter');

test.skipIf(!client.found)(
  'the kernel passes the public conformance suite (Debian python3-jupyter-kernel-test)',
  { timeout: 240_000 },
  () => {
    const folder = mkdtempSync(join(tmpdir(), 'upneck-jupyter-'));
    const env = { ...process.env, JUPYTER_DATA_DIR: folder };
    const run = (command: string, ...args: string[]): { status: number | null; stderr: string } =>
      spawnSync(command, args, { cwd: folder, env, encoding: 'utf8' });
    expect(run(process.execPath, resolve('src/clients/upneck.mjs'), 'kernel', 'install').status).toBe(0);
    const { status, stderr } = run(client.path, resolve('test/real/jupyter-conformance.py'));
    expect(status, stderr).toBe(0);
    expect(stderr).toMatch(/^Ran 12 tests in .*\n\nOK$/m); // with skipped tests it would say "OK (skipped=1)"
  },
);
