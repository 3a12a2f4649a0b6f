import { z } from 'zod';
import { isoDay, itemCode, lineOfText, longText, percentInput } from '../platform/schema.js';
import { decimalInput } from '../checks/checks.schema.js';

export const CONTACTS = ['leave-on', 'rinse-off', 'none'] as const;
export const contact = z.enum(CONTACTS).meta({ id: 'SkinContact' });

export const itemLabelPut = z
  .strictObject({
    printedName: longText(200).default('').describe('How it is called on labels; empty takes its name'),
    net: lineOfText(40)
      .nullable()
      .default(null)
      .describe('Contents as the label states them, a weight or a volume: "220 g", "100 ml"'),
    allowedShort: lineOfText(40)
      .nullable()
      .default(null)
      .describe('How much one unit may be short, where you looked it up: "4.5 ml"; it stands in place of the table'),
    openedMonths: z.int().min(1).max(120).nullable().default(null).describe('Good for so many months once opened'),
    contact: contact.default('none').describe('Which threshold holds for naming allergens'),
    cautions: z.array(lineOfText(300)).max(12).default([]),
    maker: longText(300).default('').describe('Who made it, and where, as the label says it'),
  })
  .meta({ id: 'ItemLabelPut' });
export type ItemLabelPut = z.infer<typeof itemLabelPut>;

export const itemLabelView = z
  .object({
    item: itemCode,
    printedName: z.string(),
    netMg: z.int().nullable(),
    netUl: z.int().nullable(),
    allowedShort: z.int().nullable().describe('Milligrams or microlitres, as the contents are'),
    openedMonths: z.int().nullable(),
    contact: contact,
    cautions: z.array(z.string()),
    maker: z.string(),
  })
  .meta({ id: 'ItemLabelView' });
export type ItemLabelView = z.infer<typeof itemLabelView>;

export const allergensPut = z
  .strictObject({
    allergens: z
      .array(
        z.strictObject({
          name: lineOfText(120),
          part: percentInput.describe('Of the material: ppb, or text percent "0.05 %"'),
          source: lineOfText(300).describe('Where the figure stands, such as the supplier document and its issue'),
          dated: isoDay,
        }),
      )
      .max(200)
      .refine((all) => new Set(all.map(({ name }) => name)).size === all.length, 'names one of them twice'),
  })
  .meta({ id: 'AllergensPut' });
export type AllergensPut = z.infer<typeof allergensPut>;
export const allergensView = z
  .object({
    allergens: z.array(z.object({ name: z.string(), partPpb: z.int(), source: z.string(), dated: isoDay })),
  })
  .meta({ id: 'AllergensView' });
export type AllergensView = z.infer<typeof allergensView>;

export const labelView = z
  .object({
    lot: z.string(),
    item: itemCode,
    name: z.string(),
    net: z.string().nullable().describe('Contents in both systems, rounded down'),
    dates: z.array(z.string()),
    ingredients: z.array(z.object({ item: itemCode, name: z.string(), partPpb: z.int() })).describe('Most first'),
    allergens: z.array(z.object({ name: z.string(), partPpb: z.int() })).describe('Above the threshold'),
    cautions: z.array(z.string()),
    maker: z.string(),
    address: z.string().describe("Of the lot's page: what the QR code leads to"),
    open: z.array(z.string()).describe('What the label does not say, or nobody has said yet'),
    notice: z.string(),
  })
  .meta({ id: 'LabelView' });
export type LabelView = z.infer<typeof labelView>;

export const sheetCode = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]{0,59}$/, 'Write 1 to 60 small letters (a to z), digits or dashes.')
  .meta({ id: 'LabelSheetCode' });
const mm = decimalInput.describe('Millimetres, three decimals at most');
export const labelSheetPut = z
  .strictObject({
    name: lineOfText(200),
    pageWidthMm: mm,
    pageHeightMm: mm,
    columns: z.int().min(1).max(50),
    rows: z.int().min(1).max(100),
    widthMm: mm.describe('Of one label'),
    heightMm: mm.describe('Of one label'),
    leftMm: mm.describe('From the edge of the page to the first label'),
    topMm: mm.describe('From the edge of the page to the first label'),
    pitchXMm: mm.describe('From the left of one label to the left of the next'),
    pitchYMm: mm.describe('From the top of one label to the top of the next'),
  })
  .meta({ id: 'LabelSheetPut' });
export type LabelSheetPut = z.infer<typeof labelSheetPut>;
const um = z.int().describe('Thousandths of a millimetre');
export const labelSheet = z
  .object({
    code: sheetCode,
    name: z.string(),
    pageWidthUm: um,
    pageHeightUm: um,
    columns: z.int(),
    rows: z.int(),
    widthUm: um,
    heightUm: um,
    leftUm: um,
    topUm: um,
    pitchXUm: um,
    pitchYUm: um,
  })
  .meta({ id: 'LabelSheet' });
export const labelSheetList = z.object({ labelSheets: z.array(labelSheet) }).meta({ id: 'LabelSheetList' });

const side = z.coerce.number().min(10).max(500);
export const labelPdfQuery = z
  .strictObject({
    sheet: sheetCode.optional().describe('A sheet of labels; without it one label to a page'),
    width: side.default(70).describe('Of a single label, in millimetres'),
    height: side.default(37).describe('Of a single label, in millimetres'),
    copies: z.coerce.number().int().min(1).max(500).default(1),
    skip: z.coerce.number().int().min(0).max(4999).default(0).describe('Labels of the first sheet that are used up'),
    bars: z.enum(['yes', 'no']).default('no').describe('The lot code as Code 128 too'),
  })
  .refine((query) => query.sheet !== undefined || query.skip === 0, { path: ['skip'], error: 'is for a sheet only' });
export type LabelPdfQuery = z.infer<typeof labelPdfQuery>;
