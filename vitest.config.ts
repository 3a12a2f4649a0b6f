import swc from 'unplugin-swc';
import { defineConfig } from 'vitest/config';

/** Nest reads the types of constructor parameters, which only this compiler writes down. Pages are .tsx, all else is .ts. */
const compiler = (ending: RegExp, tsx: boolean) =>
  swc.vite({
    include: ending,
    jsc: {
      target: 'es2023',
      parser: { syntax: 'typescript', decorators: true, tsx },
      transform: {
        react: { runtime: 'automatic', importSource: '@kitajs/html' },
        legacyDecorator: true,
        decoratorMetadata: true,
        useDefineForClassFields: false,
      },
    },
  });

export default defineConfig({
  plugins: [compiler(/\.ts$/, false), compiler(/\.tsx$/, true)],
  test: {
    reporters: ['default', './test/support/closing-line-reporter.ts'],
    projects: [
      {
        extends: true,
        test: {
          name: 'pure',
          include: ['test/{kernel,published}/**/*.test.ts', 'test/*.test.ts'],
          testTimeout: 30_000,
        },
      },
      {
        extends: true,
        test: {
          name: 'database',
          isolate: false,
          include: ['test/api/**/*.test.ts'],
          globalSetup: './test/support/global-setup.ts',
          testTimeout: 30_000,
          hookTimeout: 60_000,
        },
      },
      {
        // a browser on two cores is slow when others work beside it
        extends: true,
        test: {
          name: 'browser',
          include: ['test/browser/**/*.test.ts'],
          globalSetup: './test/support/global-setup.ts',
          fileParallelism: false,
          testTimeout: 180_000,
          hookTimeout: 180_000,
        },
      },
      {
        // whole processes are started and killed here: one file at a time leaves the time limits room
        extends: true,
        test: {
          name: 'faults',
          include: ['test/faults/**/*.test.ts'],
          globalSetup: './test/support/global-setup.ts',
          fileParallelism: false,
          maxConcurrency: 3,
          testTimeout: 300_000,
          hookTimeout: 180_000,
        },
      },
    ],
  },
});
