import { z } from 'zod';
import { isoDay, lineOfText, longText, pageLimit } from '../platform/schema.js';

export const customerView = z
  .object({
    id: z.int(),
    name: z.string(),
    contact: z.string(),
    orders: z.int(),
    lastShippedOn: isoDay.nullable(),
    isErased: z.boolean(),
  })
  .meta({ id: 'CustomerView' });
export type CustomerView = z.infer<typeof customerView>;
export const customerList = z
  .object({ customers: z.array(customerView), next: z.int().nullable() })
  .meta({ id: 'CustomerList' });
export type CustomerList = z.infer<typeof customerList>;

export const customerQuery = z.strictObject({
  search: lineOfText(200).optional().describe('A part of the name'),
  limit: pageLimit,
  after: z.coerce
    .number()
    .int()
    .min(0)
    .max(Number.MAX_SAFE_INTEGER)
    .optional()
    .describe('The last customer of the page before'),
});
export type CustomerQuery = z.infer<typeof customerQuery>;

export const contactPut = z
  .strictObject({ contact: longText(500).describe('How to reach them') })
  .meta({ id: 'ContactPut' });
export type ContactPut = z.infer<typeof contactPut>;
