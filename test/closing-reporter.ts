import type { Reporter, SerializedError, TestModule } from 'vitest/node';

/**
 * The last lines of a test run: which files were left out and which program each of them lacks (real-clients.ts), then
 * `N passed, N failed` alone on a line. A file that could not be loaded, and an error outside any test, count as failed.
 */
export default class ClosingReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandled: readonly SerializedError[]): void {
    const lines: string[] = [];
    const leftOut = modules.filter((module) => (module.meta().missing ?? []).length > 0);
    if (leftOut.length > 0) {
      lines.push(leftOut.length === 1 ? 'One test file was left out:' : `${leftOut.length} test files were left out:`);
      for (const module of leftOut)
        for (const missing of module.meta().missing!) lines.push(`  ${module.relativeModuleId}: ${missing}`);
    }
    const tests = modules.flatMap((module) => [...module.children.allTests()]);
    const count = (state: string): number => tests.filter((test) => test.result().state === state).length;
    const suiteErrors = modules.flatMap((module) => [
      ...module.errors(),
      ...[...module.children.allSuites()].flatMap((suite) => suite.errors()),
    ]);
    lines.push(`${count('passed')} passed, ${count('failed') + suiteErrors.length + unhandled.length} failed`);
    process.stdout.write(`${lines.join('\n')}\n`);
  }
}
