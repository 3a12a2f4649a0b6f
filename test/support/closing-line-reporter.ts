import type { Reporter, TestModule } from 'vitest/node';

/** Prints what a script reads: `N passed, N failed`, and `, N skipped` if there are any, as the very last line. */
export default class ClosingLineReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const line = closingLine(modules, unhandledErrors.length);
    process.once('exit', () => process.stdout.write(`${line}\n`));
  }
}

/** A file that could not even be read, and an error nobody waited for, count as failures: they hide tests. */
function closingLine(modules: readonly TestModule[], unhandledCount: number): string {
  let passed = 0;
  let skipped = 0;
  let failed = unhandledCount;
  for (const module of modules) {
    for (const test of module.children.allTests()) {
      const { state } = test.result();
      if (state === 'passed') passed++;
      else if (state === 'failed') failed++;
      else skipped++;
    }
    const brokenSuites = [...module.children.allSuites()].filter((suite) => suite.errors().length > 0).length;
    failed += brokenSuites + (module.errors().length > 0 ? 1 : 0);
  }
  return `${passed} passed, ${failed} failed${skipped > 0 ? `, ${skipped} skipped` : ''}`;
}
