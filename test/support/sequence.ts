import { BaseSequencer } from 'vitest/node';
import type { TestSpecification } from 'vitest/node';

/**
 * What waits most comes first, so that others work meanwhile, and what is short comes last, so that no processor is idle
 * at the end. The files of a project stay together: a worker that goes on with the same project has everything loaded.
 */
const PROJECTS = ['faults', 'browser', 'database', 'pure'];

export class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const within = await super.sort(files);
    return within.toSorted((a, b) => PROJECTS.indexOf(a.project.name) - PROJECTS.indexOf(b.project.name));
  }
}
