import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { forgetRemarks } from '../messages/remarks.js';
import { setContact } from '../orders/customers.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import type { ContactPut, CustomerList, CustomerQuery, CustomerView, Erased } from './contacts.schema.js';

/** How customers are reached, and how they are forgotten. */
@Injectable()
export class ContactsService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
  ) {}

  list(query: CustomerQuery): Promise<CustomerList> {
    const part = query.search === undefined ? null : `%${query.search.replace(/[\\%_]/g, '\\$&')}%`;
    return this.database.read(async (tx) => {
      const rows = await tx.query<CustomerView[]>(
        `${CUSTOMERS} where c.id > $1 and ($2::text is null or c.name ilike $2) order by c.id limit $3`,
        [query.after ?? 0, part, query.limit + 1],
      );
      const customers = rows.slice(0, query.limit);
      return { customers, next: rows.length > query.limit ? customers.at(-1)!.id : null };
    });
  }

  /** Throws 404, and 409 `erased` for one who was forgotten. */
  putContact(who: string, id: number, { contact }: ContactPut): Promise<CustomerView> {
    return this.database.act({ who }, async (tx) => {
      const customer = await customerById(tx, id);
      if (customer.isErased) throw conflict('erased', `Who customer ${id} was is erased.`);
      await setContact(tx, id, contact);
      return customerById(tx, id);
    });
  }

  /**
   * Erases who a customer was, wherever it is kept; what they got stays under their number. Throws 404, and 409 while an
   * open recall has to reach them or so long after their last shipment as the workshop says.
   */
  async erase(who: string, id: number): Promise<Erased> {
    const today = await this.clock.today();
    return this.database.act({ who, why: 'erased on request' }, async (tx) => {
      await customerById(tx, id);
      const [row] = await tx.query<{ found: { complaints: number; files?: number } }[]>(
        'select erase_customer($1, $2) as found',
        [id, today],
      );
      await forgetRemarks(tx);
      return { id, complaints: row!.found.complaints, files: row!.found.files ?? 0 };
    });
  }
}

const CUSTOMERS = `
  select c.id, c.name, c.contact, c.erased_at is not null as "isErased",
    (select count(*)::int from customer_order o where o.customer_id = c.id) as orders,
    (select max(m.done_on) from customer_order o join order_line ol on ol.order_id = o.id
      join standing_movement m on m.order_line_id = ol.id and m.cause = 'shipment' where o.customer_id = c.id) as "lastShippedOn"
  from customer c`;

async function customerById(tx: EntityManager, id: number): Promise<CustomerView> {
  const rows = await tx.query<CustomerView[]>(`${CUSTOMERS} where c.id = $1`, [id]);
  if (!rows[0]) throw notFound('customer', id);
  return rows[0];
}
