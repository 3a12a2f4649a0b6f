import type { LedgerRule } from './rule.js';

/** What complaints and recalls promise. */
export const TRACE_RULES: LedgerRule[] = [
  {
    // held by the recall itself, and what it says of it is what happened
    rule: 'recall hold',
    rows: 'recall_hold',
    faults: `select r.code || ' ' || l.code, concat_ws(' ', s.subject, s.subject_id, s.from_status, s.to_status),
        concat_ws(' ', 'lot', h.lot_id, h.from_status, 'held, within its scope')
      from recall_hold h join recall r on r.id = h.recall_id join lot l on l.id = h.lot_id
        left join state_change s on s.id = h.state_change_id
      where (s.subject, s.subject_id, s.from_status, s.to_status) is distinct from ('lot', h.lot_id, h.from_status, 'held')
        or not exists (select from recall_scope where recall_id = h.recall_id and lot_id = h.lot_id)`,
  },
  {
    rule: 'recall lift',
    rows: 'recall_lift',
    faults: `select r.code || ' ' || t.lot_id, 'lifted', 'held by this recall before'
      from recall_lift t join recall r on r.id = t.recall_id
      where not exists (select from recall_hold h where h.recall_id = t.recall_id and h.lot_id = t.lot_id
        and h.created_at <= t.created_at)`,
  },
  {
    rule: 'recall answer',
    rows: 'recall_answer',
    faults: `select r.code || ' answer ' || a.id, 'order ' || a.order_id || ', lot ' || a.lot_id,
        'something of a lot of its scope was sent for the order'
      from recall_answer a join recall r on r.id = a.recall_id
      where not exists (select from recall_scope where recall_id = a.recall_id and lot_id = a.lot_id)
        or not exists (select from movement m join order_line ol on ol.id = m.order_line_id
          where m.lot_id = a.lot_id and m.cause = 'shipment' and ol.order_id = a.order_id)`,
  },
  {
    rule: 'erased customer',
    rows: 'customer where erased_at is not null',
    faults: `select c.id::text, concat_ws(' ', c.name, c.contact), 'nothing of who they were'
      from customer c where c.erased_at is not null and (c.contact <> '' or c.name <> 'erased ' || c.id)
    union all
    select c.code, concat_ws(' ', c.reporter, c.contact), 'nothing of who reported it'
      from complaint c join customer_order o on o.id = complaint_order(c.id) join customer k on k.id = o.customer_id
      where c.reporter || c.contact <> '' and k.erased_at > greatest(c.created_at, (select max(e.created_at)
        from complaint_entry e where e.complaint_id = c.id and e.kind = 'order'))`,
  },
];
