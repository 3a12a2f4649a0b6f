import { BaseSequencer } from 'vitest/node';
import type { TestSpecification } from 'vitest/node';

/**
 * What waits most comes first, so that others work meanwhile, and with it what takes longest of all; what is short comes
 * last, so that no processor is idle at the end.
 */
const FOLDERS = [/\/faults\/|\/kernel\/plan\.test/, /\/browser\//, /\/api\//, /./];

/** Small files that take long, which nothing shows before a first run. */
const LONG = /\/(messages|ledger|reorder-simulation|reorder-said|plan-checked|plan-full)\.test\.ts$/;

export class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const rank = ({ moduleId }: TestSpecification) =>
      2 * FOLDERS.findIndex((folder) => folder.test(moduleId)) - (LONG.test(moduleId) ? 1 : 0);
    const within = await super.sort(files);
    return within.toSorted((a, b) => rank(a) - rank(b));
  }
}
