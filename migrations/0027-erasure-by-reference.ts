import type { MigrationInterface, QueryRunner } from 'typeorm';
import { ERASURE } from './0021-erasure.js';
import { DAYS, DAYS_BEFORE } from './0027-days.js';

/**
 * A customer is erased by reference. What looked for their name in everybody's texts rewrote what others had reported, and
 * is gone at once, for whoever still runs the version before, too. In its place stand functions of `migrations/functions`;
 * here is what they need: a letter says whom it went to, the ledger and changes of state may lose who is named in a reason,
 * a kept answer may be gone though its request is remembered, and who erased whom, and why, is written down.
 *
 * And days lie in reach: `0027-days.ts`.
 */
export class ErasureByReference1764000000027 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      drop function erase_customer(bigint, date);

      alter table customer
        add column erased_by text,
        add column erased_why text check (length(erased_why) <= 500),
        add check (erased_at is not null or (erased_by is null and erased_why is null));

      -- to whom a letter goes that goes to a customer
      alter table message add column customer_id bigint references customer;
      create index on message (customer_id) where customer_id is not null;

      -- since when the answer is gone; the request is still not done twice
      alter table idempotency add column forgotten_at timestamptz;
      alter table idempotency add check (forgotten_at is null or body is null);
      -- whose orders they are is asked for by customer
      create index on customer_order (customer_id);
    `);
    await db.query(REASONS);
    await db.query(EMPTIES);
    await db.query(DAYS);
    await db.query(`
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant insert (customer_id) on message to lotwright_app;
      end $$;
    `);
  }

  /** Names that were taken out of reasons stay out. */
  async down(db: QueryRunner): Promise<void> {
    await db.query(DAYS_BEFORE);
    await db.query(`
      drop trigger append_only on movement;
      create trigger append_only before update or delete on movement for each row execute function refuse_change();
      drop trigger append_only on state_change;
      create trigger append_only before update or delete on state_change for each row execute function refuse_change();
      drop function only_reason_erased;
      drop index customer_order_customer_id_idx;
      -- an answer that is gone is no answer without a body
      delete from idempotency where forgotten_at is not null;
      alter table idempotency drop column forgotten_at;
      alter table message drop column customer_id;
      alter table customer drop column erased_by, drop column erased_why;
      ${ERASURE.slice(ERASURE.indexOf('-- Takes away who a customer was'))}
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant execute on function erase_customer(bigint, date) to lotwright_app;
      end $$;
    `);
  }
}

const REASONS = `
  create function only_reason_erased() returns trigger language plpgsql as $$
  begin
    if tg_op = 'UPDATE' and to_jsonb(new) - array['reason', 'why'] = to_jsonb(old) - array['reason', 'why'] then return new; end if;
    raise exception '% on % is refused: it is only added to', tg_op, tg_table_name using errcode = 'LW007';
  end $$;
  drop trigger append_only on movement;
  create trigger append_only before update or delete on movement for each row execute function only_reason_erased();
  drop trigger append_only on state_change;
  create trigger append_only before update or delete on state_change for each row execute function only_reason_erased();
`;

/* Who brought empties stood in the reason by name: a customer's number stands there now, and nobody who is none of them. */
const EMPTIES = `
  update movement m set reason = 'came back empty' || coalesce(' from customer ' || (
      select c.id from customer c where lower(c.name) = lower(substring(m.reason from '^came back empty from (.*): to be washed$'))
    ), '') || ': to be washed'
    where m.cause = 'receipt' and m.reason ~ '^came back empty from .*: to be washed$';
  update state_change s set why = 'came back empty' || coalesce(' from customer ' || (
      select c.id from customer c where lower(c.name) = lower(substring(s.why from '^came back empty from (.*): to be washed$'))
    ), '') || ': to be washed'
    where s.subject = 'lot' and s.why ~ '^came back empty from .*: to be washed$';
`;
