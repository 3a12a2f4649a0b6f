import type { MigrationInterface, QueryRunner } from 'typeorm';

/** The email a purchase order went out in; and an order that is sent may make a notice needless. */
export class PurchaseLetters1764000000024 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table purchase_order
        add column message_id bigint unique references message,
        add constraint letter_is_sent check (message_id is null or (sent_by = 'email' and status <> 'draft'));
      create trigger note_change after insert or update of status on purchase_order
        for each statement execute function note_change();
      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        grant update (message_id) on purchase_order to lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop trigger note_change on purchase_order;
      alter table purchase_order drop column message_id;
    `);
  }
}
