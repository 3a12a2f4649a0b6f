import { defineConfig } from 'vitest/config';

/**
 * The tests a mutant of the kernel is judged by: those of plain arithmetic, less the ones that search long at random. What
 * only those would notice counts as unnoticed.
 */
export default defineConfig({
  test: {
    include: ['test/{kernel,published}/**/*.test.ts'],
    exclude: [
      'test/kernel/plan.test.ts',
      'test/kernel/reorder-simulation.test.ts',
      'test/kernel/photo-bytes.test.ts',
      'test/published/first-expired.test.ts',
      'test/published/packs-exact.test.ts',
    ],
    setupFiles: './test/support/fixed-seed.ts',
    testTimeout: 120_000,
  },
});
