import { z } from 'zod';
import { TERMS_TO_SAY } from '../kernel/plan/terms.js';
import { UNIT_SYSTEMS } from './workshop.entity.js';
import {
  amount,
  amountInput,
  isoDay,
  lineOfText,
  moneyE4,
  partsPpb,
  percentInput,
  readableCode,
} from '../platform/schema.js';

export const unitSystem = z.enum(UNIT_SYSTEMS).meta({ id: 'UnitSystem' });

const planTerms = z
  .array(z.enum(TERMS_TO_SAY).meta({ id: 'PlanTerm' }))
  .max(TERMS_TO_SAY.length)
  .refine((terms) => new Set(terms).size === terms.length, { error: 'The same is chosen twice.' })
  .describe('What counts before all else where a plan cannot do everything, the first first; then the others as usual');

/** A zone of the IANA time zone database that this server knows, such as `Europe/Lisbon`; fixed offsets are refused. */
const timeZone = lineOfText(64)
  .refine(isTimeZone, { error: 'must be a zone of the IANA time zone database, such as "Europe/Lisbon" or "UTC"' })
  .describe('IANA time zone');

function isTimeZone(zone: string): boolean {
  if (!/^[A-Za-z]/.test(zone)) return false;
  try {
    return new Intl.DateTimeFormat('en', { timeZone: zone }).resolvedOptions().timeZone.length > 0;
  } catch {
    return false;
  }
}

const MINUTES_SAID = 'must be whole minutes, 0 to 1440';

export const weekdayMinutes = z
  .array(z.int(MINUTES_SAID).min(0, MINUTES_SAID).max(1440, MINUTES_SAID))
  .length(7)
  .meta({ id: 'WeekdayMinutes', description: 'Hands-on minutes of each weekday, Monday first; 0: none' });

const settings = {
  name: lineOfText(200),
  timeZone,
  currency: z
    .string()
    .regex(/^[A-Z]{3}$/, 'must be three capitals (ISO 4217), such as "EUR"')
    .meta({ id: 'Currency' }),
  benchMinutes: weekdayMinutes.describe('0 is closed; they count where nobody is said to work here'),
  slackDays: z.int().min(0).max(30).describe('Days between ready and ship-by that a plan tries to keep'),
  receivingDays: z.int().min(0).max(30).describe("Days from a delivery's arrival until its goods may be used"),
};

export const workshopPut = z
  .strictObject({
    ...settings,
    units: unitSystem.default('metric').describe('us: ounces and pounds stand beside grams on every page'),
    scaleStep: amountInput.describe('The smallest step the scale shows: milligrams, or text such as "0.1 g"'),
    scaleLeast: amountInput.describe('The smallest weight it weighs well: milligrams, or text such as "0.5 g"'),
    labourRateE4: moneyE4
      .max(10_000_000_000)
      .nullable()
      .optional()
      .describe('What an hour at the bench costs; null: labour is not part of the cost; left out, it stays as it is'),
    lossTolerancePpb: percentInput
      .optional()
      .describe('How far the loss of a batch may depart from its formula without a reason; left out, it stays'),
    weighTolerancePpb: percentInput
      .optional()
      .describe('How far a weight may depart from the sheet and still count as right; left out, it stays'),
    bestBeforeOfMaterials: z
      .boolean()
      .optional()
      .describe('Whether what is made keeps no longer than the earliest date of what went in; left out, it stays'),
    planTerms: planTerms.optional(),
  })
  .meta({ id: 'WorkshopPut' });
export type WorkshopPut = z.infer<typeof workshopPut>;

export const workshopView = z
  .object({
    ...settings,
    units: unitSystem,
    scaleStep: amount,
    scaleLeast: amount,
    labourRateE4: moneyE4.nullable(),
    lossTolerancePpb: partsPpb,
    weighTolerancePpb: partsPpb,
    bestBeforeOfMaterials: z.boolean(),
    planTerms,
    isDemo: z.boolean(),
  })
  .meta({ id: 'WorkshopView' });
export type WorkshopView = z.infer<typeof workshopView>;

export const vesselKind = z
  .string()
  .regex(/^[a-z][a-z0-9-]{0,39}$/, 'Write 1 to 40 small letters (a to z), digits or dashes, a letter first.')
  .meta({ id: 'VesselKind' });

const vessel = {
  code: readableCode,
  kind: vesselKind.describe('What a formula asks for: kettle, jug, melter, mould'),
};

export const vesselCreate = z
  .strictObject({ ...vessel, capacity: amountInput.describe('By weight: mg, or "20 kg"') })
  .meta({ id: 'VesselCreate' });
export type VesselCreate = z.infer<typeof vesselCreate>;

export const vesselView = z.object({ ...vessel, capacity: amount }).meta({ id: 'VesselView' });
export type VesselView = z.infer<typeof vesselView>;
export const vesselList = z.object({ vessels: z.array(vesselView) }).meta({ id: 'VesselList' });

export const closedDayCreate = z.strictObject({ day: isoDay, why: lineOfText(200) }).meta({ id: 'ClosedDayCreate' });
export type ClosedDayCreate = z.infer<typeof closedDayCreate>;
export const closedDayList = z
  .object({ closedDays: z.array(z.object({ day: isoDay, why: z.string() })) })
  .meta({ id: 'ClosedDayList' });
