import type { LedgerRule } from './rule.js';

/** What is promised of checks and of samples that are kept. */
export const CHECK_RULES: LedgerRule[] = [
  {
    rule: 'check result',
    rows: 'check_result',
    faults: `select r.id::text, concat_ws(' ', r.kind, r.passes, r.value_e3, r.judgement->>'verdict'),
        concat_ws(' to ', r.lowest_e3, r.highest_e3)
      from check_result r left join batch b on b.id = r.batch_id
      where b.id is null or (r.value_e3 is not null and r.passes <>
          (r.value_e3 >= coalesce(r.lowest_e3, r.value_e3) and r.value_e3 <= coalesce(r.highest_e3, r.value_e3)))
        or (r.passes and r.judgement->>'verdict' = 'fails') or (not r.passes and r.judgement->>'verdict' = 'meets')
        or (r.judgement->>'weighed')::int <> cardinality(r.weights_mg)`,
  },
  {
    rule: 'kept sample',
    rows: 'kept_sample',
    faults: `select s.id::text, concat_ws(' ', m.cause, l.code, s.discarded_on), concat_ws(' ', 'sample of batch', b.code)
      from kept_sample s left join batch b on b.id = s.batch_id left join movement m on m.id = s.movement_id
        left join lot l on l.id = m.lot_id
      where m.cause is distinct from 'sample' or l.batch_id is distinct from s.batch_id or s.discard_on <= m.done_on
        or s.discarded_on < m.done_on`,
  },
];
