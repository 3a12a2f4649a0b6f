import { z } from 'zod';
import { amount, isoDay, itemCode, readableCode } from '../platform/schema.js';

export const epcisQuery = z.strictObject({
  direction: z
    .enum(['own', 'back', 'forward', 'both'])
    .default('own')
    .describe('Events of the lot alone, or also of what it comes of, of what it reached, or of both'),
});
export type EpcisQuery = z.infer<typeof epcisQuery>;

/** What is answered is checked in tests against the published JSON Schema; here only its frame is described. */
export const epcisDocumentView = z
  .looseObject({
    '@context': z.array(z.union([z.string(), z.record(z.string(), z.string())])),
    id: z.string(),
    type: z.literal('EPCISDocument'),
    schemaVersion: z.literal('2.0'),
    creationDate: z.string(),
    epcisBody: z.looseObject({ eventList: z.array(z.looseObject({ type: z.string(), eventID: z.string() })) }),
  })
  .describe('An EPCIS 2.0 document in JSON-LD')
  .meta({ id: 'EpcisDocumentView' });

const EVENTS_MAX = 5_000;
const uri = z
  .string()
  .max(2_000)
  .regex(/^[A-Za-z][A-Za-z0-9+.-]*:\S+$/, 'must be a URI')
  .meta({ id: 'Uri' });
const instant = z.iso
  .datetime({
    offset: true,
    error: 'must be a date and a time with a zone, as 2026-07-22T06:45:00+02:00',
  })
  .meta({ id: 'InstantWithZone' });
const quantityElement = z
  .strictObject({
    epcClass: uri,
    quantity: z.number().optional(),
    uom: z
      .string()
      .regex(/^[A-Z0-9]{2,3}$/, 'must be a unit code of UN/ECE Recommendation 20')
      .optional(),
  })
  .meta({ id: 'QuantityElement' });
const quantities = z.array(quantityElement).max(EVENTS_MAX);
const epcs = z.array(uri).max(EVENTS_MAX);
const action = z.enum(['ADD', 'OBSERVE', 'DELETE']).meta({ id: 'EpcisAction' });

const errorDeclaration = z.looseObject({ declarationTime: instant }).meta({ id: 'ErrorDeclaration' });

const eventFrame = z.looseObject({
  eventID: uri.optional(),
  eventTime: instant,
  eventTimeZoneOffset: z
    .string()
    .regex(/^[+-](?:(?:0\d|1[0-3]):[0-5]\d|14:00)$/, 'must be an offset such as +02:00')
    .meta({ id: 'ZoneOffset' }),
  bizStep: z.string().max(200).optional(),
  errorDeclaration: errorDeclaration.optional(),
  ilmd: z.record(z.string(), z.unknown()).optional(),
});

const objectEvent = eventFrame
  .extend({ type: z.literal('ObjectEvent'), action, epcList: epcs.optional(), quantityList: quantities.optional() })
  .refine((event) => event.epcList !== undefined || event.quantityList !== undefined, {
    error: 'an event names pieces or quantities',
    path: ['quantityList'],
  })
  .meta({ id: 'ObjectEvent' });
const aggregationEvent = eventFrame
  .extend({
    type: z.literal('AggregationEvent'),
    action,
    parentID: uri.optional(),
    childEPCs: epcs.optional(),
    childQuantityList: quantities.optional(),
  })
  .meta({ id: 'AggregationEvent' });
const transformationEvent = eventFrame
  .extend({
    type: z.literal('TransformationEvent'),
    inputEPCList: epcs.optional(),
    inputQuantityList: quantities.optional(),
    outputEPCList: epcs.optional(),
    outputQuantityList: quantities.optional(),
  })
  .meta({ id: 'TransformationEvent' });
/** Kinds of events that say nothing about lots on their way are read and left aside. */
const otherEvent = eventFrame
  .extend({ type: z.enum(['TransactionEvent', 'AssociationEvent']) })
  .meta({ id: 'OtherEvent' });

const context = z.union([z.string(), z.record(z.string(), z.unknown())]).meta({ id: 'LinkedDataContext' });

/** A document of a supplier: what the standard asks of its frame, and of what is read here. Other members may stand. */
export const epcisImport = z
  .looseObject({
    '@context': z.union([z.array(context).min(1), context]),
    id: uri.optional(),
    type: z.literal('EPCISDocument'),
    schemaVersion: z.string().regex(/^2\.\d+(?:\.\d+)?$/, 'must be a version 2 document'),
    creationDate: instant,
    epcisBody: z.looseObject({
      eventList: z
        .array(z.discriminatedUnion('type', [objectEvent, aggregationEvent, transformationEvent, otherEvent]))
        .max(EVENTS_MAX),
    }),
  })
  .meta({ id: 'EpcisImport' });
export type EpcisImport = z.infer<typeof epcisImport>;
export type ImportedEvent = EpcisImport['epcisBody']['eventList'][number];

export const announcedLot = z
  .object({
    line: z.int().describe('Number of the line in the delivery'),
    item: itemCode,
    supplierLot: z.string(),
    quantity: amount,
    expiresOn: isoDay.nullable(),
    epcClass: z.string(),
  })
  .meta({ id: 'AnnouncedLot' });
export type AnnouncedLot = z.infer<typeof announcedLot>;

export const announcedView = z
  .object({
    delivery: readableCode,
    lots: z.array(announcedLot),
    leftAside: z
      .array(z.object({ epcClass: z.string(), why: z.string() }))
      .describe('What the document names that is on no line of this delivery'),
  })
  .meta({ id: 'AnnouncedView' });
export type AnnouncedView = z.infer<typeof announcedView>;
