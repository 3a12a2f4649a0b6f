import type { JobsOptions } from 'bullmq';

/** What can be asked of a worker. Each has one handler, or nothing starts. */
export const JOB_NAMES = ['send', 'sweep'] as const;
export type JobName = (typeof JOB_NAMES)[number];

/** What a job is told. `send`: the message; the row says everything else. */
export interface JobData {
  send: { message: string };
  sweep: { because: 'change' | 'day' | 'asked' };
}

export interface NewJob<Name extends JobName = JobName> {
  name: Name;
  data: JobData[Name];
  options?: Pick<JobsOptions, 'jobId' | 'deduplication'>;
}

/**
 * How long finished jobs are kept to be looked at: by age in seconds, and failed ones by their number too. Counting those
 * that are done would take a third of the speed in PostgreSQL, where each that ends would look for the oldest.
 */
const KEPT = {
  removeOnComplete: { age: 3600 },
  removeOnFail: { age: 30 * 86_400, count: 2000 },
} as const;

/** Tries in one handing over; later ones are the outbox's, which waits longer between them. */
export const SEND_TRIES = 4;

/** How each kind of job is tried and kept. */
export const JOB_OPTIONS: Record<JobName, JobsOptions> = {
  send: { ...KEPT, attempts: SEND_TRIES, backoff: { type: 'exponential', delay: 2000, jitter: 0.3 } },
  sweep: { ...KEPT, attempts: 3, backoff: { type: 'exponential', delay: 5000 } },
};
