import { z } from 'zod';
import { measure } from '../catalog/items.schema.js';
import { orderName } from '../orders/orders.schema.js';
import { amount, instant, isoDay, itemCode, lineOfText, longText, pageQuery, partsPpb } from '../platform/schema.js';
import { brokenPromise } from '../stock/stock.schema.js';
import { caseStatus, complaintCode } from './complaint.schema.js';
import { parcel } from './trace.schema.js';

export const recallCode = z
  .string()
  .regex(/^[RD]\d{2}-\d{3,9}$/, 'must be such as R26-001')
  .meta({ id: 'RecallCode' });

export const recallCreate = z
  .strictObject({
    lot: lineOfText(500).describe('The lot that is suspected, of whatever kind; everything it reached is in the scope'),
    why: longText(2_000).min(1),
    complaints: z.array(complaintCode).max(50).default([]),
  })
  .meta({ id: 'RecallCreate' });
export type RecallCreate = z.infer<typeof recallCreate>;

const recallEntry = z
  .object({ kind: z.string(), text: z.string(), by: z.string(), at: instant })
  .meta({ id: 'RecallEntry' });

export const scopeLot = z
  .object({
    code: z.string(),
    item: itemCode,
    name: z.string(),
    kind: z.string(),
    measure: measure,
    status: z.string(),
    onHand: amount,
    reserved: amount,
    isHeldByThis: z.boolean(),
  })
  .meta({ id: 'ScopeLot' });

const recallResult = z
  .object({
    reconciledPpb: partsPpb,
    traceMs: z.int(),
    tookMs: z.int(),
    lots: z.int(),
    customers: z.int(),
    parcels: z.int(),
  })
  .meta({ id: 'RecallResult' });

export const recallView = z
  .object({
    code: recallCode,
    isDrill: z.boolean(),
    status: caseStatus,
    lot: z.string(),
    why: z.string(),
    openedOn: isoDay,
    openedBy: z.string(),
    complaints: z.array(complaintCode),
    scope: z.array(scopeLot),
    recipients: z.int(),
    written: z.int().describe('Recipients a letter went to'),
    answered: z.int().describe('Recipients of whom every lot is answered for'),
    sent: amount.describe('All that was shipped of lots of the scope, in pieces'),
    returned: amount,
    accountedFor: amount.describe('Of what was shipped, what recipients account for or what came back'),
    entries: z.array(recallEntry),
    result: recallResult.nullable().describe('Of a drill, or of the closing'),
  })
  .meta({ id: 'RecallView' });
export type RecallView = z.infer<typeof recallView>;

export const recallQuery = pageQuery.extend({ kind: z.enum(['recall', 'drill']).optional() });
export type RecallQuery = z.infer<typeof recallQuery>;
export const recallPage = z
  .object({
    recalls: z.array(
      recallView.pick({ code: true, isDrill: true, status: true, lot: true, why: true, openedOn: true, result: true }),
    ),
    next: z.string().nullable(),
  })
  .meta({ id: 'RecallPage' });
export type RecallPage = z.infer<typeof recallPage>;

/** What holding does, or would do, to what is planned. */
export const holdEffects = z
  .object({
    recall: recallCode,
    lots: z.array(z.object({ lot: z.string(), item: itemCode, from: z.string(), onHand: amount })),
    alreadyHeld: z.array(z.string()).describe('Held, rejected or waiting already, or of which nothing is left'),
    batches: z
      .array(z.object({ batch: z.string(), item: itemCode, status: z.string() }))
      .describe('At the bench: paused'),
    freed: z.array(brokenPromise).describe('What others were promised and no longer get'),
    orders: z.array(z.string()).describe('Orders that lose something'),
  })
  .meta({ id: 'HoldEffects' });
export type HoldEffects = z.infer<typeof holdEffects>;

export const recallWhy = z.strictObject({ why: longText(2_000).min(1) }).meta({ id: 'RecallWhy' });
export type RecallWhy = z.infer<typeof recallWhy>;

export const lifted = z
  .object({
    recall: recallCode,
    lots: z.array(z.string()),
    kept: z.array(z.object({ lot: z.string(), why: z.string() })),
  })
  .meta({ id: 'HoldsLifted' });
export type Lifted = z.infer<typeof lifted>;

export const recallEntryCreate = z
  .strictObject({ kind: z.enum(['decision', 'note']), text: longText(5_000).min(1) })
  .meta({ id: 'RecallEntryCreate' });
export type RecallEntryCreate = z.infer<typeof recallEntryCreate>;

export const lettersCreate = z
  .strictObject({
    orders: z.array(orderName).min(1).max(10_000).optional().describe('Left out, all recipients not written to yet'),
    sentBy: z.enum(['post', 'email', 'telephone', 'other']),
    sentOn: isoDay.optional(),
  })
  .meta({ id: 'LettersCreate' });
export type LettersCreate = z.infer<typeof lettersCreate>;
export const lettersDone = z.object({ recall: recallCode, written: z.int() }).meta({ id: 'LettersDone' });
export type LettersDone = z.infer<typeof lettersDone>;

const pieces = amount.default(0);
export const answerCreate = z
  .strictObject({
    order: orderName,
    lot: lineOfText(80),
    answeredOn: isoDay.optional(),
    received: amount.describe('How much of it they say they got'),
    used: pieces,
    kept: pieces.describe('Still with them, set apart'),
    destroyed: pieces,
    sentBack: pieces,
    note: longText(2_000).default(''),
  })
  .refine(({ received, used, kept, destroyed, sentBack }) => used + kept + destroyed + sentBack <= received, {
    error: 'they cannot account for more than they got',
    path: ['received'],
  })
  .meta({ id: 'RecallAnswerCreate' });
export type AnswerCreate = z.infer<typeof answerCreate>;

const answerView = z
  .object({
    lot: z.string(),
    answeredOn: isoDay,
    received: amount,
    used: amount,
    kept: amount,
    destroyed: amount,
    sentBack: amount,
    note: z.string(),
  })
  .meta({ id: 'RecallAnswerView' });

const recipient = z
  .object({
    order: z.string().describe('As channel and number'),
    customer: z.string().nullable(),
    contact: z.string(),
    sent: amount,
    returned: amount,
    parcels: z.array(parcel.omit({ channel: true, number: true, customer: true })),
    writtenOn: isoDay.nullable(),
    answers: z.array(answerView),
    isAnswered: z.boolean().describe('Of every lot they got'),
  })
  .meta({ id: 'RecallRecipient' });
export type Recipient = z.infer<typeof recipient>;

export const recallListView = z
  .object({
    recall: recallCode,
    parcels: z.int(),
    sent: amount,
    returned: amount,
    recipients: z.array(recipient).describe('By customer, then order'),
  })
  .meta({ id: 'RecallListView' });
export type RecallListView = z.infer<typeof recallListView>;

export const drillCreate = z
  .strictObject({
    seed: z.int().min(0).max(2_147_483_647).optional().describe('Left out, one at random; the same draws the same lot'),
  })
  .meta({ id: 'DrillCreate' });
export type DrillCreate = z.infer<typeof drillCreate>;
