import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * A vessel holds one thing: of batches that are planned and not begun, no two stand in one vessel on the same day. What is
 * begun is not held to it, for what happened is written down as it happened; `vessel_conflict` shows it.
 *
 * One range holds vessel and days: ten million numbers for each vessel, of which a day takes the one it is from 1970 on, so
 * that no year from 1 to 9999 reaches into the next vessel. It is checked at the end of an act, which may put a batch on
 * another day first and into another vessel then, or change two about.
 *
 * Batches that stood in each other's way before keep their days and their vessels, which may be written on somebody's wall:
 * of such, all but the first written down are marked, and a mark is gone as soon as the batch is put elsewhere. Moving them
 * would change what was promised, and cancelling them would lose it.
 */
export class VesselHoldsOne1764000000028 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- planned into a vessel in which another stands: before that was refused, or begun and taken back again
      alter table batch add column shares_vessel boolean not null default false;

      alter table batch disable trigger user;
      do $$ declare late record; begin
        for late in select * from batch where status in ('planned', 'reserved') and vessel_id is not null order by id loop
          update batch set shares_vessel = true
            where id = late.id and exists (select from batch o where o.vessel_id = late.vessel_id and o.id < late.id
              and o.status in ('planned', 'reserved') and not o.shares_vessel
              and o.day <= late.emptied_on and late.day <= o.emptied_on);
        end loop;
      end $$;
      alter table batch enable trigger user;

      alter table batch add constraint vessel_holds_one exclude using gist (
          int8range(vessel_id * 10000000 + (day - date '1970-01-01'),
            vessel_id * 10000000 + (emptied_on - date '1970-01-01'), '[]') with &&)
        where (status in ('planned', 'reserved') and vessel_id is not null and not shares_vessel)
        deferrable initially deferred;

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        -- all but the mark
        revoke insert on batch from lotwright_app;
        grant insert (code, run_id, formula_id, item_id, vessel_id, status, day, ready_on, emptied_on, output, promised,
          put_in_mg, minutes, expires_on, created_by, created_at, first_status, made, is_rework) on batch to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop view if exists vessel_conflict;
      alter table batch drop constraint vessel_holds_one, drop column shares_vessel;
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant insert on batch to lotwright_app;
      end $$;
    `);
  }
}
