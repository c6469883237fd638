import { defineConfig } from 'vitest/config';
import ClosingReporter from './test/closing-reporter.ts';

export default defineConfig({
  test: {
    include: ['test/**/*.test.ts'],
    exclude: ['test/bench/**'],
    testTimeout: 60_000,
    hookTimeout: 120_000,
    reporters: ['default', new ClosingReporter()],
  },
});
