import type { MigrationInterface, QueryRunner } from 'typeorm';

/** The workshop itself and its catalog: items, formulas with versions and lines, vessels, use limits. */
export class Catalog1764000000001 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      -- Who acts: set for each transaction by the application. Without it nothing that records an act can be written.
      create function acting_person() returns text language plpgsql stable as $$
      declare who text := current_setting('lotwright.who', true);
      begin
        if who is null or who = '' then
          raise exception 'lotwright.who is not set: an act needs a person' using errcode = 'LW000';
        end if;
        return who;
      end $$;

      create table workshop (
        id               int primary key default 1 check (id = 1),
        name             text not null,
        time_zone        text not null default 'UTC',
        currency         text not null default 'USD' check (currency ~ '^[A-Z]{3}$'),
        -- Monday first; a day without minutes is closed for hands-on work
        bench_minutes    int[] not null default '{480,480,480,480,480,0,0}'
          check (array_length(bench_minutes, 1) = 7 and 0 <= all (bench_minutes) and 1440 >= all (bench_minutes)),
        slack_days       int not null default 1 check (slack_days between 0 and 30),
        receiving_days   int not null default 1 check (receiving_days between 0 and 30),
        scale_step_mg    bigint not null default 100 check (scale_step_mg > 0),
        scale_least_mg   bigint not null default 500 check (scale_least_mg >= scale_step_mg),
        is_demo          boolean not null default false,
        updated_by       text not null default acting_person(),
        updated_at       timestamptz not null default now()
      );

      create table closed_day (
        day              date primary key,
        why              text not null,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );

      create table vessel (
        id               bigint generated always as identity primary key,
        code             text not null unique check (code ~ '^[A-Z0-9][A-Z0-9._-]{0,39}$'),
        kind             text not null check (kind ~ '^[a-z][a-z0-9-]{0,39}$'),
        capacity_mg      bigint not null check (capacity_mg > 0),
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );

      create table item (
        id               bigint generated always as identity primary key,
        code             text not null unique check (code ~ '^[A-Z0-9][A-Z0-9._-]{0,39}$'),
        name             text not null check (length(name) between 1 and 200),
        kind             text not null check (kind in ('material', 'bulk', 'product', 'set')),
        measure          text not null check (measure in ('weighed', 'counted')),
        family           text not null default 'other'
          check (family in ('fragrance', 'base', 'container', 'label', 'spray', 'body', 'diffuser', 'candle', 'soap', 'other')),
        -- micrograms per millilitre, so 0.8107 g/ml is 810 700: an integer, exact to the sixth decimal
        density_ug_per_ml bigint check (density_ug_per_ml between 100000 and 25000000),
        policy           text not null default 'to-order' check (policy in ('to-order', 'to-stock', 'seasonal', 'discontinued')),
        target           bigint not null default 0 check (target between 0 and 9000000000000),
        season_from      date,
        season_to        date,
        stocked          boolean not null default true,
        lot_date_kind    text not null default 'expiry' check (lot_date_kind in ('expiry', 'best-before', 'retest')),
        shelf_life_days  int check (shelf_life_days between 1 and 36500),
        owed_life_days   int not null default 0 check (owed_life_days between 0 and 36500),
        -- what stays in a container and can never be used
        heel             bigint not null default 0 check (heel >= 0),
        quarantined_on_arrival boolean not null default false,
        flammable        boolean not null default false,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        check (kind <> 'bulk' or measure = 'weighed'),
        check (kind not in ('product', 'set') or measure = 'counted'),
        check ((policy = 'seasonal') = (season_from is not null and season_to is not null)),
        check (season_from is null or season_from <= season_to),
        check (stocked or kind = 'material')
      );

      create table formula (
        id               bigint generated always as identity primary key,
        item_id          bigint not null references item,
        version          int not null check (version > 0),
        -- the current one is the highest version that is not withdrawn
        withdrawn        boolean not null default false,
        vessel_kind      text check (vessel_kind ~ '^[a-z][a-z0-9-]{0,39}$'),
        -- output amounts: milligrams for a bulk, units for a product or a set
        batch_min        bigint not null check (batch_min > 0),
        batch_max        bigint check (batch_max >= batch_min),
        batch_multiple   bigint not null default 1 check (batch_multiple > 0),
        -- parts per billion of what is put in that never comes out again
        loss_ppb         bigint not null default 0 check (loss_ppb between 0 and 900000000),
        residue_mg       bigint not null default 0 check (residue_mg >= 0),
        minutes_batch    int not null default 0 check (minutes_batch between 0 and 10000),
        -- seconds of hands-on work for each unit made (filling, labelling)
        seconds_unit     int not null default 0 check (seconds_unit between 0 and 86400),
        rest_days        int not null default 0 check (rest_days between 0 and 1000),
        note             text not null default '',
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        unique (item_id, version)
      );

      create table formula_line (
        formula_id       bigint not null references formula on delete cascade,
        position         int not null check (position between 1 and 64),
        item_id          bigint not null references item,
        basis            text not null check (basis in ('share', 'load', 'ratio', 'qs', 'each', 'fixed')),
        -- share, load: parts per billion (100 % is 1e9); ratio: 1e9 is 1; each, fixed: milligrams or units; qs: null
        amount           bigint check (amount >= 0),
        is_base          boolean not null default false,
        ratio_of         int[] not null default '{}',
        step             text not null default 'make' check (step in ('make', 'fill', 'pack')),
        -- the solution: parts per billion of the weight put in; null for each and fixed
        part_ppb         bigint check (part_ppb between 0 and 1000000000),
        primary key (formula_id, position),
        check ((basis = 'qs') = (amount is null)),
        check ((basis = 'ratio') = (cardinality(ratio_of) > 0)),
        check ((basis in ('each', 'fixed')) = (part_ppb is null))
      );
      create index on formula_line (item_id);

      create table formula_step (
        formula_id       bigint not null references formula on delete cascade,
        position         int not null check (position between 1 and 64),
        phase            text not null check (phase in ('make', 'fill', 'pack')),
        instruction      text not null check (length(instruction) between 1 and 2000),
        primary key (formula_id, position)
      );

      create table use_limit (
        item_id          bigint not null references item,
        category         text not null,
        limit_ppb        bigint not null check (limit_ppb between 0 and 1000000000),
        source           text not null,
        dated            date not null,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        primary key (item_id, category)
      );
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop table use_limit, formula_step, formula_line, formula, item, vessel, closed_day, workshop;
      drop function acting_person()`);
  }
}
