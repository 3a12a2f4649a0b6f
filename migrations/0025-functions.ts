import type { MigrationInterface, QueryRunner } from 'typeorm';
import { LEDGER_RULES, ledgerChecks } from './ledger-checks.js';

/**
 * What the functions and views of the database were last made from, and by which Lotwright: from here on their present lies
 * in `migrations/functions`. And which Lotwright served these data last. Both are the owner's alone.
 */
export class Functions1764000000025 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table database_function (
        name             text primary key,
        -- hex sha-256 of the SQL it was made from
        hash             text not null check (hash ~ '^[0-9a-f]{64}$'),
        -- of the Lotwright that made it
        version          text not null,
        made_at          timestamptz not null default clock_timestamp()
      );

      create table served_by (
        id               int primary key default 1 check (id = 1),
        version          text not null,
        since            timestamptz not null default clock_timestamp()
      );
      -- whoever used it before this was written down was of the version before
      insert into served_by (version) select '0.1.0' where exists (select from workshop);

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        revoke all on database_function, served_by from lotwright_app;
      end $$;
    `);
  }

  /** Takes away what only the files brought, and puts back as it was whatever may read it. */
  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      do $$ declare brought text; begin
        for brought in select format('view if exists %I', v.viewname) from pg_views v join database_function f on f.name = v.viewname
            where v.schemaname = 'public'
          union all select 'function if exists ' || p.oid::regprocedure from pg_proc p join database_function f on f.name = p.proname
            where p.pronamespace = 'public'::regnamespace and p.proname <> all ('{${MADE_BEFORE.join(', ')}}')
        loop
          execute format('drop %s cascade', brought);
        end loop;
      end $$;
      drop table served_by, database_function;
      drop view if exists lead_time;
      ${LEAD_TIME}
      ${ledgerChecks(LEDGER_RULES)}
    `);
  }
}

/** The functions that the migrations before this one make, and take away. */
const MADE_BEFORE = [
  'acting_person',
  'check_act',
  'claim_key',
  'demo_tables',
  'discard_once',
  'erase_customer',
  'free_reservation',
  'guard_batch',
  'guard_demo',
  'guard_lot_date',
  'guard_made_lot',
  'guard_measure',
  'guard_purchase_line',
  'guard_rework',
  'guard_rework_input',
  'guard_sent',
  'guard_state',
  'inherit_never_release',
  'ledger_checks',
  'ledger_violations',
  'move_reservation',
  'note_change',
  'note_first_status',
  'note_reported',
  'notice_time',
  'only_erased',
  'post_finish',
  'post_movement',
  'post_reservation',
  'post_retest',
  'post_targets',
  'prune_answers',
  'refuse_begun',
  'refuse_change',
  'refuse_loop',
  'refuse_release',
  'refuse_weighed',
  'remove_demo',
  'without_person',
];

const LEAD_TIME = `
  -- How long each delivered line took from ordering until it came, the mean of its parts by what came of it; parts put
  -- right do not count. Where nobody said when it was ordered, from when it was written down, if that was before it came.
  create view lead_time as
    select line_id, supplier_id, item_id, pack_id, ordered_on, last_on,
      (took * 1.0 / quantity)::double precision as days
    from (
      select dl.id as line_id, d.supplier_id, dl.item_id, dl.pack_id, o.ordered_on, max(m.done_on) as last_on,
        sum(m.quantity) as quantity, sum(m.quantity * (m.done_on - o.ordered_on)) as took,
        min(m.done_on - o.ordered_on) as least, bool_or(d.ordered_on is not null) as is_known
      from movement m join delivery_line dl on dl.id = m.delivery_line_id join delivery d on d.id = dl.delivery_id
        left join workshop w on true
        cross join lateral (
          select coalesce(d.ordered_on, (d.created_at at time zone coalesce(w.time_zone, 'UTC'))::date) as ordered_on) o
      where m.cause = 'receipt' and not exists (select from movement c where c.reverses_id = m.id)
      group by dl.id, d.supplier_id, o.ordered_on
    ) taken
    where least >= 0 and (is_known or least > 0);
  do $$ begin
    if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
    revoke all on lead_time from lotwright_app;
    grant select on lead_time to lotwright_app;
  end $$;
`;
