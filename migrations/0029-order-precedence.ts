import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * Which orders go first where not all can be made in time: an urgent one before all others, then what counts for more.
 * Plans add weights up, so they are whole numbers, and 100 is enough between what must not wait and what may.
 */
export class OrderPrecedence1764000000029 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table channel
        add column weight int not null default 1 check (weight between 1 and 100);

      alter table customer_order
        -- null: as its channel's orders
        add column weight int check (weight between 1 and 100),
        add column urgent boolean not null default false,
        -- who last said either by hand, which a shop's file no longer changes
        add column precedence_by text,
        add column precedence_at timestamptz,
        add constraint precedence_said_by_whom check ((precedence_by is null) = (precedence_at is null));

      -- what a channel's orders weigh decides who goes without, and so what is short
      create trigger note_change after update on channel for each statement execute function note_change();
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop trigger note_change on channel;
      alter table customer_order drop constraint precedence_said_by_whom, drop column precedence_at,
        drop column precedence_by, drop column urgent, drop column weight;
      alter table channel drop column weight;
    `);
  }
}
