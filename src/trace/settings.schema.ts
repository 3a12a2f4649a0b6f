import { z } from 'zod';
import { gtin14 } from '../kernel/trace/gs1.js';
import { itemCode, longText, readableCode } from '../platform/schema.js';

export const traceSettings = z
  .strictObject({
    companyPrefix: z
      .string()
      .regex(/^\d{6,12}$/, 'must be the 6 to 12 digits GS1 gave the workshop')
      .nullable()
      .describe('Given by GS1; null: identifiers are names of our own'),
    contactDays: z
      .int()
      .min(0)
      .max(36_500)
      .describe('So many days after the last shipment who a customer was is not erased, whatever they ask for'),
    letter: longText(10_000).describe('The letter of a recall; {customer}, {products}, {why} and others are filled in'),
  })
  .meta({ id: 'TraceSettings' });
export type TraceSettings = z.infer<typeof traceSettings>;

export const tradeNumber = z
  .string()
  .transform((text, context) => {
    const gtin = gtin14(text.trim());
    if (gtin !== undefined) return gtin;
    context.addIssue({ code: 'custom', message: 'must be a GTIN of 8, 12, 13 or 14 digits with its check digit' });
    return z.NEVER;
  })
  .describe('A GTIN; kept with fourteen digits');

export const tradeItemPut = z
  .strictObject({
    gtin: tradeNumber,
    item: itemCode,
    supplier: readableCode.nullable().optional().describe('Whose number it is; left out or null, our own'),
  })
  .meta({ id: 'TradeItemPut' });
export type TradeItemPut = z.infer<typeof tradeItemPut>;
export const tradeItemView = z
  .object({ gtin: z.string(), item: itemCode, supplier: z.string().nullable() })
  .meta({ id: 'TradeItemView' });
export type TradeItemView = z.infer<typeof tradeItemView>;
export const tradeItemList = z.object({ tradeItems: z.array(tradeItemView) }).meta({ id: 'TradeItemList' });
export type TradeItemList = z.infer<typeof tradeItemList>;

export const tradeItemQuery = z.strictObject({ item: itemCode.optional() });
export type TradeItemQuery = z.infer<typeof tradeItemQuery>;
