import { z } from 'zod';
import { idParam, readableCode } from '../platform/schema.js';
import { family, scent } from './items.schema.js';
import { vesselKind } from './workshop.schema.js';

const MINUTES_A_DAY = 1440;

const row = {
  vessel: readableCode.nullable().default(null).describe('One vessel; or a kind, or neither for any'),
  kind: vesselKind.nullable().default(null),
  afterFamily: family.nullable().default(null).describe('What stood in it: a family or a scent; neither is anything'),
  afterScent: scent.nullable().default(null),
  beforeFamily: family.nullable().default(null).describe('What is poured next'),
  beforeScent: scent.nullable().default(null),
  minutes: z.int().min(0).max(MINUTES_A_DAY).describe('At the bench, on the day of the next pour'),
};

export const washingPut = z
  .strictObject(row)
  .refine(({ vessel, kind }) => vessel === null || kind === null, { path: ['kind'], error: 'Name a vessel or a kind.' })
  .refine((body) => body.afterFamily === null || body.afterScent === null, {
    path: ['afterScent'],
    error: 'Name a family or a scent.',
  })
  .refine((body) => body.beforeFamily === null || body.beforeScent === null, {
    path: ['beforeScent'],
    error: 'Name a family or a scent.',
  })
  .meta({ id: 'WashingPut' });
export type WashingPut = z.infer<typeof washingPut>;

export const washingView = z.object({ id: z.int(), ...row }).meta({ id: 'Washing' });
export type WashingView = z.infer<typeof washingView>;
export const washingList = z.object({ washing: z.array(washingView) }).meta({ id: 'WashingList' });

export const washingPath = z.strictObject({ id: idParam });
export type WashingPath = z.infer<typeof washingPath>;
