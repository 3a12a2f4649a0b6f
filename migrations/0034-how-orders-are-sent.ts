import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * How an order is sent: each line by itself when all of it is ready, all of them at once, or of each what is there first. A
 * shop's file says nothing of it.
 */
export class HowOrdersAreSent1764000000034 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table channel
        add column sends text not null default 'lines' check (sends in ('lines', 'complete', 'parts'));

      alter table customer_order
        -- null: as its channel's orders
        add column sends text check (sends in ('lines', 'complete', 'parts'));
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table customer_order drop column sends;
      alter table channel drop column sends;
    `);
  }
}
