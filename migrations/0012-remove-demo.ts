import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * The one way to take anything out of the ledger: the demonstration goes as a whole, and only the demonstration. What
 * marks it can be set only on a workshop that holds nothing, so no workshop becomes one to be emptied.
 */
export class RemoveDemo1764000000012 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create function guard_demo() returns trigger language plpgsql security definer set search_path = public as $$
      begin
        if exists (select from workshop where is_demo) then return new; end if;
        if exists (select from item) or exists (select from channel) or exists (select from supplier)
            or exists (select from vessel) then
          raise exception 'this workshop holds things of its own, so it cannot become the demonstration'
            using errcode = 'LW008';
        end if;
        return new;
      end $$;
      create trigger guard_demo before insert or update on workshop
        for each row when (new.is_demo) execute function guard_demo();

      -- Every table that holds what a workshop does. A migration that adds a table replaces this function.
      create function demo_tables() returns regclass[] language sql stable set search_path = public as $$
        select array[${TABLES.map((table) => `'${table}'`).join(', ')}]::regclass[]
      $$;

      -- As the owner of the tables, since the application may neither truncate nor switch a guard off. The guards are
      -- off for this transaction only, and nobody else can reach the tables until it ends. Waits for whoever is at work.
      create function remove_demo() returns void
        language plpgsql security definer set search_path = public set lock_timeout = '10s' as $$
      declare
        guarded regclass;
      begin
        perform from workshop where is_demo for update;
        if not found then
          raise exception 'this workshop is no demonstration, so what it recorded stays' using errcode = 'LW008';
        end if;
        for guarded in select tgrelid from pg_trigger where tgname = 'no_truncate' and tgrelid = any(demo_tables()) loop
          execute format('alter table %s disable trigger no_truncate', guarded);
        end loop;
        execute 'truncate ' || array_to_string(demo_tables(), ', ') || ' restart identity';
        for guarded in select tgrelid from pg_trigger where tgname = 'no_truncate' and tgrelid = any(demo_tables()) loop
          execute format('alter table %s enable trigger no_truncate', guarded);
        end loop;
        -- an empty workshop of its own: the demonstration does not come back by itself
        insert into workshop (name) values ('Workshop');
      end $$;
      revoke all on function remove_demo() from public;

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant execute on function remove_demo() to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop trigger guard_demo on workshop; drop function remove_demo, demo_tables, guard_demo');
  }
}

const TABLES = [
  'workshop',
  'closed_day',
  'vessel',
  'item',
  'formula',
  'formula_line',
  'formula_step',
  'use_limit',
  'channel',
  'customer',
  'shop_code',
  'customer_order',
  'order_line',
  'order_file',
  'supplier',
  'pack',
  'delivery',
  'delivery_line',
  'run',
  'line_cover',
  'batch',
  'batch_input',
  'peg',
  'lot',
  'reservation',
  'movement',
  'state_change',
  'shelf_count',
  'shelf_count_line',
  'shipment',
  'retest',
  'price_difference',
  'idempotency',
];
