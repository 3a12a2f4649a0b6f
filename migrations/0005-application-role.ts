import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * The role the application serves as. It owns nothing, so it cannot disable a trigger, and it may change a balance
 * only by adding movements and reservations. On a server where roles may not be made, the application serves as the
 * owner and says so at start.
 */
export class ApplicationRole1764000000005 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then
          create role lotwright_app nologin;
        end if;
      exception
        when duplicate_object or unique_violation then null;
        when insufficient_privilege then
          raise notice 'no right to make the role lotwright_app: the application will serve as the owner';
      end $$;

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant usage on schema public to lotwright_app;
        grant select, insert, update, delete on all tables in schema public to lotwright_app;
        grant usage on all sequences in schema public to lotwright_app;
        alter default privileges in schema public grant select, insert, update, delete on tables to lotwright_app;
        alter default privileges in schema public grant usage on sequences to lotwright_app;

        revoke all on movement, reservation, lot, state_change, transition, migrations from lotwright_app;
        grant select on movement, reservation, lot, state_change, transition, migrations to lotwright_app;
        grant insert (lot_id, cause, quantity, value_e4, done_on, reason, reservation_id, batch_id, order_line_id,
          delivery_line_id, other_lot_id, reverses_id) on movement to lotwright_app;
        grant insert (run_id, lot_id, batch_id, delivery_line_id, batch_input_id, order_line_id, quantity, open, need_on)
          on reservation to lotwright_app;
        grant insert (code, item_id, status, expires_on, came_on, place, supplier_id, supplier_lot, certificate,
          parent_lot_id, batch_id) on lot to lotwright_app;
        grant update (status, expires_on, place, certificate) on lot to lotwright_app;
        revoke delete on batch, batch_input, peg, customer_order, order_line, item, delivery, delivery_line
          from lotwright_app;
        revoke update on batch, delivery_line from lotwright_app;
        grant update (status, vessel_id, day, ready_on, emptied_on, expires_on) on batch to lotwright_app;
        grant update (received, cost_e4, expires_on) on delivery_line to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    // The role may serve other databases of the same server, so only what it may do here is taken back.
    await db.query(`
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        alter default privileges in schema public revoke all on tables from lotwright_app;
        alter default privileges in schema public revoke all on sequences from lotwright_app;
        revoke all on all tables in schema public from lotwright_app;
        revoke all on all sequences in schema public from lotwright_app;
        revoke usage on schema public from lotwright_app;
      end $$;
    `);
  }
}
