import { availableParallelism } from 'node:os';
import swc from 'unplugin-swc';
import { defineConfig } from 'vitest/config';
import { patience } from './test/support/scale.js';
import { LongestFirst } from './test/support/sequence.js';

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

/** One more than processors: some files wait for clocks and for processes they have started. */
const WORKERS = availableParallelism() + 1;

export default defineConfig({
  plugins: [compiler(/\.ts$/, false), compiler(/\.tsx$/, true)],
  test: {
    reporters: ['default', './test/support/closing-line-reporter.ts'],
    sequence: { sequencer: LongestFirst },
    maxWorkers: WORKERS,
    // what one project has translated, the next need not
    experimental: { fsModuleCache: true },
    setupFiles: './test/support/fixed-seed.ts',
    projects: [
      {
        extends: true,
        test: {
          name: 'pure',
          isolate: false,
          include: ['test/{kernel,published}/**/*.test.ts', 'test/*.test.ts'],
          testTimeout: patience(300_000),
        },
      },
      {
        // one project, so that a worker loads the application once for all of them; whole processes are started and killed
        // in some, and a browser on two cores is slow when others work beside it
        extends: true,
        test: {
          name: 'whole',
          isolate: false,
          include: ['test/{api,browser,faults}/**/*.test.ts'],
          globalSetup: ['./test/support/global-setup.ts', './test/support/build.ts'],
          maxConcurrency: 3,
          testTimeout: patience(300_000),
          hookTimeout: 180_000,
        },
      },
    ],
  },
});
