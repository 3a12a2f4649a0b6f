import type { MigrationInterface, QueryRunner } from 'typeorm';

/** The answers that are kept for requests which carry a key of their own, so that asking again does nothing twice. */
export class Idempotency1764000000008 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      create table idempotency (
        who              text not null,
        -- method and path as they were asked for
        route            text not null,
        key              text not null check (length(key) between 1 and 255),
        request_hash     text not null check (request_hash ~ '^[0-9a-f]{64}$'),
        status           int not null check (status between 200 and 299),
        -- null: an answer without a body
        body             text,
        content_type     text,
        created_at       timestamptz not null default now(),
        primary key (who, route, key),
        check ((body is null) = (content_type is null))
      );
      create index on idempotency (created_at);

      -- Makes the key this transaction's own until it ends, and answers what is kept for it, if anything. The look comes
      -- after the lock and is a statement of its own, so it sees whatever the holder before committed.
      create function claim_key(for_who text, for_route text, for_key text) returns setof idempotency
        language plpgsql volatile set search_path = public as $$
      begin
        if not pg_try_advisory_xact_lock(hashtextextended(concat_ws(chr(31), for_who, for_route, for_key), 0)) then
          raise exception 'a request with this key is still being worked on: ask again in a moment' using errcode = 'LW010';
        end if;
        return query select * from idempotency where who = for_who and route = for_route and key = for_key;
      end $$;

      -- Each answer that is kept takes away up to ten that are two days old: they cannot pile up, and nobody pays for many.
      create function prune_answers() returns trigger language plpgsql security definer set search_path = public as $$
      begin
        delete from idempotency where (who, route, key) in (
          select who, route, key from idempotency where created_at < now() - interval '48 hours'
          order by created_at limit 10 for update skip locked);
        return null;
      end $$;
      create trigger prune after insert on idempotency for each statement execute function prune_answers();

      do $$ begin
        if not exists (select from pg_roles where rolname = 'lotwright_app') then return; end if;
        revoke update, delete on idempotency from lotwright_app;
      end $$;
    `);
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query('drop function claim_key; drop table idempotency; drop function prune_answers');
  }
}
