import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { invalid } from '../platform/problem.js';
import { customerById } from './contacts.service.js';
import type { Erased, ErasureAct, ErasurePlace, ErasurePreview } from './erasure.schema.js';

/** One field that tells who a customer was, as customer_traces lists it. */
interface Trace {
  place: string;
  of: string;
  before: string;
  after: string | null;
}

/** Fields that hold JSON, of which single values are changed. */
const HOLDS_JSON = new Set(['message.letter', 'order_file.report', 'idempotency.body']);

/** How a customer is forgotten: what they got stays, under a number. */
@Injectable()
export class ErasureService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  /** Every place that would be changed, before anything is. Throws 404. */
  async preview(id: number): Promise<ErasurePreview> {
    const today = await this.clock.today();
    return this.database.read(async (tx) => {
      const customer = await customerById(tx, id);
      const [may] = await tx.query<{ refusals: string[] }[]>('select erasure_refusals($1, $2) as refusals', [
        id,
        today,
      ]);
      const { places, seen } = await tracesOf(tx, id);
      return {
        customer,
        refusals: may!.refusals.map((text) => `${text.charAt(0).toUpperCase()}${text.slice(1)}.`),
        places: customer.isErased ? [] : places,
        counts: customer.isErased ? {} : countsOf(places),
        mayBeTheirs: customer.isErased ? [] : await mayBeTheirs(tx, id),
        seen,
      };
    });
  }

  /**
   * Erases who a customer was at the places the preview showed, and nowhere else. Throws 404; 409 `wrong-state` while an
   * order or complaint of theirs is open, an open recall has to reach them, or so long after their last shipment as the
   * workshop says; 409 `changed-since` where what is kept of them is no longer what was seen; 422 for a reason that names
   * them.
   */
  async erase(who: string, id: number, { seen, why }: ErasureAct): Promise<Erased> {
    const today = await this.clock.today();
    return this.database.act({ who, why }, async (tx) => {
      await customerById(tx, id);
      const [said] = await tx.query<{ names: boolean | null }[]>(
        'select without_words($1, customer_words($2)) <> $1 as names',
        [why, id],
      );
      if (said!.names) throw invalid('/why', 'This reason names them, and would keep what is erased. Say it without.');
      const { places } = await tracesOf(tx, id);
      await tx.query('select forget_customer($1, $2, $3, $4)', [id, today, seen, why]);
      return { id, counts: countsOf(places) };
    });
  }
}

async function tracesOf(tx: EntityManager, id: number): Promise<{ places: ErasurePlace[]; seen: string }> {
  const [row] = await tx.query<{ traces: Trace[]; seen: string }[]>(
    'select t.traces, md5(t.traces::text) as seen from (select customer_traces($1) as traces) t',
    [id],
  );
  return { places: row!.traces.flatMap(placesOf), seen: row!.seen };
}

function placesOf({ place, of, before, after }: Trace): ErasurePlace[] {
  const [kind = '', field = ''] = place.split('.');
  if (after === null || !HOLDS_JSON.has(place)) return [{ kind, field, of, before, after }];
  return changedValues(JSON.parse(before), JSON.parse(after), field).map((one) => ({ kind, of, ...one }));
}

/** The values that differ between two JSON values of the same shape, each with the way to it. */
function changedValues(
  before: unknown,
  after: unknown,
  field: string,
): { field: string; before: string; after: string }[] {
  if (typeof before === 'object' && before !== null && typeof after === 'object' && after !== null)
    return Object.entries(before).flatMap(([key, value]) =>
      changedValues(value, (after as Record<string, unknown>)[key], `${field}/${key}`),
    );
  return before === after ? [] : [{ field, before: String(before), after: String(after) }];
}

function countsOf(places: readonly ErasurePlace[]): Record<string, number> {
  const counts: Record<string, number> = {};
  for (const { kind } of places) counts[kind] = (counts[kind] ?? 0) + 1;
  return counts;
}

/** Complaints that only a person can tell to be theirs: by a name alone nobody's report is rewritten. */
async function mayBeTheirs(tx: EntityManager, id: number): Promise<ErasurePreview['mayBeTheirs']> {
  return tx.query<ErasurePreview['mayBeTheirs']>(
    `select k.code as complaint, case when complaint_order(k.id) is null
         then 'it names no order, and who reported it is called or reached as they are'
         else 'an order of theirs was named first, then one of somebody else' end as why
     from complaint k join customer c on c.id = $1
     where case when complaint_order(k.id) is null
       then lower(k.reporter) = lower(c.name) or (c.contact <> '' and k.contact = c.contact)
       else complaint_order(k.id) not in (select id from customer_order where customer_id = c.id)
         and exists (select from customer_order o where o.customer_id = c.id and (o.id = k.order_id
           or o.id in (select e.order_id from complaint_entry e where e.complaint_id = k.id))) end
     order by k.code`,
    [id],
  );
}
