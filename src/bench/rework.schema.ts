import { z } from 'zod';
import { amount, amountInput, instant, isoDay, itemCode, lineOfText, whySaid } from '../platform/schema.js';

export const reworkCreate = whySaid;
export type ReworkCreate = z.infer<typeof reworkCreate>;

export const setForRework = z
  .object({
    lot: z.string(),
    onHand: amount,
    why: z.string(),
    by: z.string(),
    at: instant,
  })
  .meta({ id: 'SetForRework' });
export type SetForRework = z.infer<typeof setForRework>;

export const workInCreate = z
  .strictObject({
    lot: lineOfText(80).describe('A rejected lot that is set aside for it'),
    quantity: amountInput,
    why: lineOfText(500),
  })
  .meta({ id: 'WorkInCreate' });
export type WorkInCreate = z.infer<typeof workInCreate>;

export const reworkBatchCreate = z
  .strictObject({
    why: lineOfText(500),
    item: itemCode.optional().describe("What is made of it: the lot's own item unless said"),
    quantity: amountInput.optional().describe('Of the lot: all of it unless said'),
    output: amountInput.optional().describe('What is meant to come out: as much as goes in unless said'),
    day: isoDay.optional().describe('Today unless said'),
    additions: z
      .array(z.strictObject({ item: itemCode, quantity: amountInput }))
      .max(32)
      .default([])
      .describe('What is added to mend it'),
  })
  .meta({ id: 'ReworkBatchCreate' });
export type ReworkBatchCreate = z.infer<typeof reworkBatchCreate>;
