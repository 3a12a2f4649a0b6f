import type { MigrationInterface, QueryRunner } from 'typeorm';

/** Runs (the week's plan) and the batches a committed run makes. */
export class RunsAndBatches1764000000003 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table run (
        id               bigint generated always as identity primary key,
        week_start       date not null,
        planned_on       date not null,
        status           text not null check (status in ('draft', 'committed', 'undone')),
        -- sha-256 of the snapshot the proposal was made from; another one at commit means stale
        snapshot_hash    text not null check (snapshot_hash ~ '^[0-9a-f]{64}$'),
        snapshot         jsonb not null,
        proposal         jsonb not null,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now(),
        committed_at     timestamptz,
        check ((status = 'draft') = (committed_at is null))
      );

      create table batch (
        id               bigint generated always as identity primary key,
        code             text not null unique,
        run_id           bigint references run,
        formula_id       bigint not null references formula,
        item_id          bigint not null references item,
        vessel_id        bigint references vessel,
        status           text not null default 'planned'
          check (status in ('planned', 'reserved', 'weighed', 'resting', 'released', 'rejected', 'cancelled')),
        day              date not null,
        ready_on         date not null check (ready_on >= day),
        emptied_on       date not null check (emptied_on >= day),
        -- what is meant to come out, and the weight put in; milligrams or units
        output           bigint not null check (output > 0),
        -- reserved out of the coming output
        promised         bigint not null default 0 check (promised between 0 and output),
        put_in_mg        bigint not null check (put_in_mg >= 0),
        minutes          int not null check (minutes >= 0),
        expires_on       date,
        created_by       text not null default acting_person(),
        created_at       timestamptz not null default now()
      );
      create index on batch (run_id);
      create index on batch (status);

      create table batch_input (
        id               bigint generated always as identity primary key,
        batch_id         bigint not null references batch,
        position         int not null,
        item_id          bigint not null references item,
        step             text not null check (step in ('make', 'fill', 'pack')),
        need_on          date not null,
        quantity         bigint not null check (quantity > 0),
        unique (batch_id, position)
      );
      create index on batch_input (item_id);

      -- whom a batch is made for: an order line, another batch, or the item's stock target (both null)
      create table peg (
        batch_id         bigint not null references batch,
        position         int not null,
        order_line_id    bigint references order_line,
        for_batch_id     bigint references batch,
        quantity         bigint not null check (quantity > 0),
        primary key (batch_id, position),
        check (num_nonnulls(order_line_id, for_batch_id) <= 1)
      );
      create index on peg (order_line_id);
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`drop table peg, batch_input, batch, run`);
  }
}
