import { Injectable } from '@nestjs/common';
import type { EntityManager } from 'typeorm';
import { Database } from '../platform/database.js';
import { notFound } from '../platform/problem.js';
import type { BatchPage, BatchQuery, BatchView } from './production.schema.js';

/** What is to be made, and how far each batch is. */
@Injectable()
export class BenchService {
  constructor(private readonly database: Database) {}

  list(query: BatchQuery): Promise<BatchPage> {
    return this.database.read(async (tx) => {
      const rows = await tx.query<BatchPage['batches']>(
        `select ${HEAD} ${FROM} where b.code > $1 and ($2::text is null or b.status = $2) order by b.code limit $3`,
        [query.after ?? '', query.status ?? null, query.limit + 1],
      );
      const batches = rows.slice(0, query.limit);
      return { batches, next: rows.length > query.limit ? batches.at(-1)!.code : null };
    });
  }

  get(code: string): Promise<BatchView> {
    return this.database.read((tx) => batchViewByCode(tx, code));
  }
}

const HEAD = `b.code, i.code as item, b.status, b.day, b.ready_on as "readyOn", v.code as vessel, b.output`;
const FROM = `from batch b join item i on i.id = b.item_id left join vessel v on v.id = b.vessel_id`;

/** Throws a 404 problem. */
export async function batchViewByCode(tx: EntityManager, code: string): Promise<BatchView> {
  const rows = await tx.query<BatchView[]>(
    `select ${HEAD}, b.put_in_mg as "putInMg", (${INPUTS}) as inputs ${FROM} where b.code = $1`,
    [code],
  );
  if (!rows[0]) throw notFound('batch', code);
  return rows[0];
}

const INPUTS = `
  select coalesce(json_agg(json_build_object(
    'position', bi.position, 'item', ii.code, 'step', bi.step, 'needOn', bi.need_on, 'quantity', bi.quantity,
    'reserved', (select coalesce(json_agg(json_build_object('source', coalesce(l.code, s.code, d.code),
        'quantity', r.open, 'needOn', r.need_on) order by r.need_on, r.id), '[]')
      from reservation r left join lot l on l.id = r.lot_id left join batch s on s.id = r.batch_id
        left join delivery_line dl on dl.id = r.delivery_line_id left join delivery d on d.id = dl.delivery_id
      where r.batch_input_id = bi.id and r.open > 0),
    'weighed', bi.weighed,
    'lots', (select coalesce(json_agg(json_build_object('lot', used.code, 'quantity', used.quantity)
        order by used.code), '[]')
      from (select l.code, -sum(m.quantity)::bigint as quantity from movement m join lot l on l.id = m.lot_id
        where m.batch_input_id = bi.id group by l.code having sum(m.quantity) <> 0) used),
    'done', bi.closed or bi.weighed >= bi.quantity) order by bi.position), '[]')
  from batch_input bi join item ii on ii.id = bi.item_id where bi.batch_id = b.id`;
