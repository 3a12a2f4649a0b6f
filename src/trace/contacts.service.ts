import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { setContact } from '../orders/customers.js';
import { Database } from '../platform/database.js';
import { conflict, notFound } from '../platform/problem.js';
import { likePart } from '../platform/like-part.js';
import type { ContactPut, CustomerList, CustomerQuery, CustomerView } from './contacts.schema.js';

/** Who customers are, and how they are reached. */
@Injectable()
export class ContactsService {
  constructor(private readonly database: Database) {}

  list(query: CustomerQuery): Promise<CustomerList> {
    const part = likePart(query.search);
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
}

const CUSTOMERS = `
  select c.id, c.name, c.contact, c.erased_at is not null as "isErased",
    (select count(*)::int from customer_order o where o.customer_id = c.id) as orders,
    (select max(m.done_on) from customer_order o join order_line ol on ol.order_id = o.id
      join standing_movement m on m.order_line_id = ol.id and m.cause = 'shipment' where o.customer_id = c.id) as "lastShippedOn"
  from customer c`;

/** Throws a 404 problem. */
export async function customerById(tx: EntityManager, id: number): Promise<CustomerView> {
  const rows = await tx.query<CustomerView[]>(`${CUSTOMERS} where c.id = $1`, [id]);
  if (!rows[0]) throw notFound('customer', id);
  return rows[0];
}
