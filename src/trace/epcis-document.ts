import { createHash } from 'node:crypto';
import { lotLink } from '../kernel/trace/gs1.js';
import type { Measure } from '../kernel/measure/quantity.js';

/** Events of EPCIS 2.0 as we write them; GS1, "EPCIS and CBV 2.0" (2022). */
export interface EpcisEvent {
  type: 'ObjectEvent' | 'TransformationEvent' | 'AggregationEvent';
  eventID: string;
  eventTime: string;
  eventTimeZoneOffset: '+00:00';
  recordTime?: string;
  bizStep: string;
  disposition?: string;
  readPoint: { id: string };
  [member: string]: unknown;
}

export interface EpcisDocument {
  '@context': (string | Record<string, string>)[];
  id: string;
  type: 'EPCISDocument';
  schemaVersion: '2.0';
  creationDate: string;
  epcisBody: { eventList: EpcisEvent[] };
}

/** A lot as a document names it. */
export interface EventLot {
  code: string;
  item: string;
  measure: Measure;
  /** The trade number of its item, where it has one. */
  gtin: string | null;
}

/**
 * How things are called. A lot of an item with a trade number is a GS1 Digital Link; all else is a name of our own under
 * the workshop's, since a number of GS1's may only be made by who was given a prefix.
 */
export class Names {
  private readonly base: string;

  constructor(workshop: string) {
    const slug = workshop
      .normalize('NFKD')
      .toLowerCase()
      .replaceAll(/[^a-z0-9]+/g, '-')
      .replaceAll(/^-|-$/g, '');
    this.base = `urn:lotwright:${slug || 'workshop'}`;
  }

  own(kind: string, ...parts: string[]): string {
    return [this.base, kind, ...parts.map((part) => encodeURIComponent(part).replaceAll("'", '%27'))].join(':');
  }

  lot({ code, item, gtin }: EventLot): string {
    return gtin === null ? this.own('lot', item, code) : lotLink(gtin, code);
  }

  place(): { id: string } {
    return { id: this.own('place', 'workshop') };
  }

  /** The same for the same thing whenever it is asked: a UUID of version 5 (RFC 9562, 5.5) of its own name. */
  event(...parts: (string | number)[]): string {
    return `urn:uuid:${uuidOf(this.own('event', ...parts.map(String)))}`;
  }
}

const URL_NAMESPACE = Buffer.from('6ba7b8119dad11d180b400c04fd430c8', 'hex');

function uuidOf(name: string): string {
  const hash = createHash('sha1').update(URL_NAMESPACE).update(name).digest().subarray(0, 16);
  hash[6] = (hash[6]! & 0x0f) | 0x50;
  hash[8] = (hash[8]! & 0x3f) | 0x80;
  const hex = hash.toString('hex');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

const MG_PER_KG = 1_000_000;

/** Kilograms (KGM of UN/ECE Recommendation 20) for what is weighed; pieces have no unit. Exact to the milligram. */
export function quantityElement(names: Names, lot: EventLot, quantity: number) {
  const epcClass = names.lot(lot);
  return lot.measure === 'counted' ? { epcClass, quantity } : { epcClass, quantity: quantity / MG_PER_KG, uom: 'KGM' };
}

/** The day it was done, at the instant it was written down if that was the same day, else at noon. */
export function eventTimeOf(doneOn: string, recordedAt: Date): { eventTime: string; recordTime: string } {
  const recordTime = recordedAt.toISOString();
  return { eventTime: recordTime.startsWith(doneOn) ? recordTime : `${doneOn}T12:00:00.000Z`, recordTime };
}

export function documentOf(names: Names, lot: string, createdAt: Date, events: readonly EpcisEvent[]): EpcisDocument {
  return {
    '@context': [
      'https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld',
      { cbvmda: 'urn:epcglobal:cbv:mda:' },
    ],
    id: names.own('document', lot, createdAt.toISOString()),
    type: 'EPCISDocument',
    schemaVersion: '2.0',
    creationDate: createdAt.toISOString(),
    epcisBody: {
      eventList: [...events].sort((a, b) =>
        a.eventTime < b.eventTime ? -1 : a.eventTime > b.eventTime ? 1 : a.eventID < b.eventID ? -1 : 1,
      ),
    },
  };
}
