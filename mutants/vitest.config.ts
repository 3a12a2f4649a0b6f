import { defineConfig } from 'vitest/config';

/**
 * The tests a mutant of the kernel is judged by: those of plain arithmetic, less the ones that search long at random or do
 * not touch the kernel. A mutant that survives costs all tests that reach it, so what is drawn at random is drawn less
 * often. What only those would notice counts as unnoticed. NEAREST names the files to judge by alone, with blanks between.
 */
const nearest = process.env['NEAREST']?.split(' ');

export default defineConfig({
  test: {
    include: nearest ?? ['test/{kernel,published}/**/*.test.ts'],
    exclude: [
      'test/kernel/{bar-codes,photo-bytes}.test.ts',
      'test/kernel/{optimum,optimum-by-trying,plan,plan-full,plan-steps,reorder-simulation,reorder-said}.test.ts',
      'test/published/{calendar-format,csv-format,public-addresses}.test.ts',
      'test/published/{first-expired,packs-exact,weighted-tardiness}.test.ts',
    ],
    env: { LOTWRIGHT_MUTANTS: '1' },
    setupFiles: './test/support/fixed-seed.ts',
    testTimeout: 120_000,
  },
});
