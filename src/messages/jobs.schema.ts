import { z } from 'zod';
import { instant, messageId } from '../platform/schema.js';

const count = z.int().min(0);

export const failedJob = z
  .object({
    id: z.string(),
    name: z.string(),
    tries: count,
    failedAt: instant,
    error: z.string(),
  })
  .meta({ id: 'FailedJob' });
export type FailedJob = z.infer<typeof failedJob>;

export const queueState = z
  .object({
    kind: z.enum(['redis', 'postgres']).describe('Where the jobs lie'),
    reached: z.boolean(),
    workers: count.describe('Workers connected, those of other processes too'),
    waiting: count,
    active: count,
    delayed: count,
    completed: count.describe('Of those still kept'),
    failed: count,
    nightlyAt: instant.nullable().describe('When the nightly look is next due'),
    failedJobs: z.array(failedJob),
    errors: z
      .array(z.object({ at: instant, error: z.string() }))
      .describe('The last ones this process had with the queue'),
  })
  .meta({ id: 'QueueState' });
export type QueueState = z.infer<typeof queueState>;

export const jobPath = z.strictObject({
  id: z
    .string()
    .min(1)
    .max(120)
    .regex(/^[\x21-\x7e]+$/, 'must be printable ASCII'),
});

export const outboxState = z
  .object({
    waiting: count,
    handed: count,
    sent: count,
    dropped: count,
    givenUp: count,
    oldestDueSeconds: z
      .int()
      .nullable()
      .describe('How long the oldest one that is due has been waiting; null: none is'),
  })
  .meta({ id: 'OutboxState' });
export type OutboxState = z.infer<typeof outboxState>;

export const failingMessage = z
  .object({
    message: messageId,
    channel: z.string(),
    status: z.string(),
    about: z.string(),
    tries: count,
    nextTry: instant.nullable(),
    error: z.string(),
  })
  .meta({ id: 'FailingMessage' });
export type FailingMessage = z.infer<typeof failingMessage>;

export const jobsView = z
  .object({
    queue: queueState,
    outbox: outboxState,
    failing: z.array(failingMessage).describe('Messages that could not be sent at the last try'),
    lastSweep: z
      .object({
        day: z.string(),
        doneAt: instant,
        found: count,
        added: count,
        ended: count,
        tookMs: count,
      })
      .nullable(),
  })
  .meta({ id: 'JobsView' });
export type JobsView = z.infer<typeof jobsView>;

export const messagePath = z.strictObject({ message: messageId });
