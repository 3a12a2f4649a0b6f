import { type Attempt, jobsOfLate, type Trial } from './attempt.js';
import type { Job } from './job.js';

/** A plan, and the lines whose batches take the room that all others leave. */
export interface Later {
  attempt: Attempt;
  later: ReadonlySet<string>;
}

/**
 * Where not all lines can be in time, one after the other is made last, as long as that serves orders better: others then
 * neither share its batches nor wait for them. (So J. M. Moore, 1968, for one machine: of those that are due by a day that
 * is full, the longest is left for the end.)
 */
export function searchLater(first: Later, trial: Trial<Later['later']>): Later {
  let best = first;
  for (let isFound = true; isFound;) {
    isFound = false;
    for (const later of othersThan(best)) {
      if (!trial.mayTry()) return best;
      const attempt = trial.tryWith(later, best.attempt);
      if (attempt === null || !trial.isTaken(attempt, best.attempt)) continue;
      best = { attempt, later };
      isFound = true;
      break;
    }
  }
  return best;
}

/** All that are late but one; one line more; or one that is not late instead of one that is. Each is made when it is asked for. */
function* othersThan({ attempt, later }: Later): Generator<ReadonlySet<string>> {
  const late = lateLines(attempt);
  const all = new Set([...later, ...late]);
  const allBut = (line: string): Set<string> => new Set([...all].filter((other) => other !== line));
  for (const line of late) yield allBut(line);
  const beside = [...linesBesideLate(attempt)].filter((line) => !later.has(line));
  for (const line of beside) yield new Set(later).add(line);
  if (all.size < 2) return;
  const isLate = new Set(late);
  const inTime = beside.filter((line) => !isLate.has(line));
  for (const line of late) for (const other of inTime) yield allBut(line).add(other);
}

const lateLines = ({ netted, placed }: Attempt): string[] =>
  netted.lines
    .filter(({ fromJobs, needBy }) => fromJobs.some(({ job }) => (placed.get(job)!.ready ?? Infinity) > needBy))
    .map(({ row }) => row.key);

/** Lines that are made for, those first that share a batch with a late one. */
function linesBesideLate(attempt: Attempt): Set<string> {
  const lines = new Set<string>();
  const seen = new Set<Job>();
  const visit = (job: Job): void => {
    // Stryker disable next-line ConditionalExpression: what is seen twice is the same twice
    if (seen.has(job)) return;
    seen.add(job);
    for (const { line, job: user } of job.pegs) {
      if (line) lines.add(line.row.key);
      if (user) visit(user);
    }
  };
  for (const job of [...jobsOfLate(attempt), ...attempt.netted.jobs]) visit(job);
  return lines;
}
