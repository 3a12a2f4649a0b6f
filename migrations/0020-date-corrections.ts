import type { MigrationInterface, QueryRunner } from 'typeorm';

/** A date that was written down wrongly is put right beside the examinations, on any lot, and may turn out to be none. */
export class DateCorrections1764000000020 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table retest
        add is_correction boolean not null default false,
        alter to_date drop not null,
        add constraint examined_to_a_date check (is_correction or to_date is not null);
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant insert (is_correction) on retest to lotwright_app;
      end $$;`);
    await db.query(POST_RETEST);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(POST_RETEST_BEFORE);
    await db.query(`
      alter table retest drop constraint examined_to_a_date;
      alter table retest alter to_date set not null, drop column is_correction;`);
  }
}

const POST_RETEST = `
  create or replace function post_retest() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    l lot%rowtype;
  begin
    select * into l from lot where id = new.lot_id for update;
    if not new.is_correction and not exists (select from item where id = l.item_id and lot_date_kind = 'retest') then
      raise exception 'the date of lot % is no retest date', l.code using errcode = 'LW008';
    end if;
    new.from_date := l.expires_on;
    new.created_at := clock_timestamp();
    update lot set expires_on = new.to_date where id = l.id;
    return new;
  end $$;
`;

const POST_RETEST_BEFORE = `
  create or replace function post_retest() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    l lot%rowtype;
  begin
    select * into l from lot where id = new.lot_id for update;
    if not exists (select from item where id = l.item_id and lot_date_kind = 'retest') then
      raise exception 'the date of lot % is no retest date', l.code using errcode = 'LW008';
    end if;
    new.from_date := l.expires_on;
    new.created_at := clock_timestamp();
    update lot set expires_on = new.to_date where id = l.id;
    return new;
  end $$;
`;
