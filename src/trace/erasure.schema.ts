import { z } from 'zod';
import { lineOfText } from '../platform/schema.js';
import { customerView } from './contacts.schema.js';

export const erasurePlace = z
  .object({
    kind: z.string().describe('Of which record: customer, complaint, complaint_entry, message, idempotency ...'),
    field: z.string().describe('Which of its fields; of one that holds JSON with the way to the value: body/customer'),
    of: z.string().describe('Whose, in words: a complaint, an order, a letter, a kept answer'),
    before: z.string(),
    after: z.string().nullable().describe('null: it goes as a whole'),
  })
  .meta({ id: 'ErasurePlace' });
export type ErasurePlace = z.infer<typeof erasurePlace>;

const counts = z.record(z.string(), z.int()).describe('How many places there are of each kind');

export const erasurePreview = z
  .object({
    customer: customerView,
    refusals: z.array(z.string()).describe('Why it cannot be done today; none where it can'),
    places: z.array(erasurePlace).describe('Every place that is changed, with what stands there and what will'),
    counts,
    mayBeTheirs: z
      .array(z.object({ complaint: z.string(), why: z.string() }))
      .describe('Complaints no order says are theirs, which stay as they are unless one does'),
    seen: z
      .string()
      .describe('Stands for all of this: sent with the act, which is refused where anything changed since'),
  })
  .meta({ id: 'ErasurePreview' });
export type ErasurePreview = z.infer<typeof erasurePreview>;

export const erasureAct = z
  .strictObject({
    seen: z
      .string()
      .regex(/^[0-9a-f]{32}$/, 'must be what the preview said')
      .describe('`seen` of the preview'),
    why: lineOfText(500).describe('Why they are erased, without naming them'),
  })
  .meta({ id: 'ErasureAct' });
export type ErasureAct = z.infer<typeof erasureAct>;

export const erased = z.object({ id: z.int(), counts }).meta({ id: 'CustomerErased' });
export type Erased = z.infer<typeof erased>;
