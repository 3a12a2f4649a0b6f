import type { MigrationInterface, QueryRunner } from 'typeorm';

/** What taking back a plan, or changing one batch of it, asks of the database. */
export class RunChanges1764000000007 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- Moves the day a reservation is needed on; refused where its lot does not last so long.
      create function move_reservation(which bigint, new_day date) returns void
        language plpgsql security definer set search_path = public as $$
      declare
        l lot%rowtype;
      begin
        select * into l from lot where id = (select lot_id from reservation where id = which) for update;
        if l.expires_on < new_day then
          raise exception 'lot % was last usable on %, not on %', l.code, l.expires_on, new_day using errcode = 'LW003';
        end if;
        update reservation set need_on = new_day where id = which;
      end $$;

      -- A batch that has begun, or is over, stays as it was planned.
      create function guard_batch() returns trigger language plpgsql as $$
      begin
        if old.status not in ('planned', 'reserved') and (new.output, new.put_in_mg, new.day, new.vessel_id, new.minutes)
            is distinct from (old.output, old.put_in_mg, old.day, old.vessel_id, old.minutes) then
          raise exception 'batch % is %, so its plan no longer changes', old.code, old.status using errcode = 'LW008';
        end if;
        if new.status = 'cancelled' and new.promised > 0 then
          raise exception 'batch % is still promised to others', old.code using errcode = 'LW008';
        end if;
        return new;
      end $$;
      create trigger guard_batch before update on batch for each row execute function guard_batch();

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant update (output, put_in_mg, minutes) on batch to lotwright_app;
        grant delete on peg to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop trigger guard_batch on batch;
      drop function guard_batch, move_reservation;
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        revoke update (output, put_in_mg, minutes) on batch from lotwright_app;
        revoke delete on peg from lotwright_app;
      end $$;
    `);
  }
}
