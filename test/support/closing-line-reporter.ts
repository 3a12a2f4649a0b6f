import type { Reporter, TestModule } from 'vitest/node';

const SLOWEST = 10;

/**
 * Prints the slowest files and then what a script reads: `N passed, N failed`, and `, N skipped` if there are any, as the
 * very last line.
 */
export default class ClosingLineReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const lines = [...slowest(modules), closingLine(modules, unhandledErrors.length)];
    process.once('exit', () => process.stdout.write(`${lines.join('\n')}\n`));
  }
}

/** Loading included; files that run beside others take longer than alone. Nothing where there are only a few. */
function slowest(modules: readonly TestModule[]): string[] {
  if (modules.length <= SLOWEST) return [];
  const took = modules.map((module) => {
    const { collectDuration, duration } = module.diagnostic();
    return { file: module.relativeModuleId, seconds: (collectDuration + duration) / 1000 };
  });
  const first = took.toSorted((a, b) => b.seconds - a.seconds).slice(0, SLOWEST);
  return ['The slowest files:', ...first.map(({ file, seconds }) => `${seconds.toFixed(1).padStart(7)} s  ${file}`)];
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
