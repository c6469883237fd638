import { spawnSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { expect, test } from 'vitest';

/** Runs one file of test/real where no program is on the PATH. */
function runWithoutPrograms(more: NodeJS.ProcessEnv): { code: number | null; output: string; closing: string } {
  const empty = mkdtempSync(`${tmpdir()}/no-programs-`);
  const { status, stdout, stderr } = spawnSync(
    process.execPath,
    ['node_modules/vitest/vitest.mjs', 'run', 'test/real/page.test.ts'],
    { env: { PATH: empty, NO_COLOR: '1', ...more }, encoding: 'utf8' },
  );
  rmSync(empty, { recursive: true });
  const closing = stdout.trimEnd().split('\n\n').at(-1)!;
  return { code: status, output: stdout + stderr, closing };
}

test('needs leaves a suite out where its program is missing, and the run ends by saying so', () => {
  const { code, closing } = runWithoutPrograms({});
  expect(closing).toBe(
    'One test file was left out:\n' +
      '  test/real/page.test.ts: Chromium was not found: install a program "chromium" on the PATH\n' +
      '0 passed, 0 failed',
  );
  expect(code).toBe(0);
});

test('needs fails the run where its program is missing and UPNECK_REQUIRE is all', () => {
  const { code, output, closing } = runWithoutPrograms({ UPNECK_REQUIRE: 'all' });
  expect(output).toContain('Chromium was not found: install a program "chromium" on the PATH (UPNECK_REQUIRE=all');
  expect(closing).toBe('0 passed, 1 failed');
  expect(code).toBe(1);
});
