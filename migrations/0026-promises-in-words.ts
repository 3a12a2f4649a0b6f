import type { MigrationInterface, QueryRunner } from 'typeorm';

/**
 * A reservation says itself of which item it is and for whom, as post_reservation writes it down: whoever gives some of a
 * lot back names whom that hurts without looking at orders or batches. None of it changes later: a line that becomes one of
 * another item gives back all that was set aside for it first.
 *
 * What a movement was for is posted by the room it lies in, each with a trigger of its own where post_targets did all.
 * And whether an item's measure may still change is asked by each room of its own amounts.
 */
export class PromisesInWords1764000000026 implements MigrationInterface {
  async up(db: QueryRunner): Promise<void> {
    await db.query(`
      alter table reservation
        add column item_id bigint references item,
        -- the batch whose input it is for; the order whose line it is for, as 'channel number'
        add column for_batch text,
        add column for_order text;
      update reservation r set item_id = bi.item_id, for_batch = b.code
        from batch_input bi join batch b on b.id = bi.batch_id where bi.id = r.batch_input_id;
      update reservation r set item_id = ol.item_id, for_order = o.channel || ' ' || o.number
        from order_line ol join customer_order o on o.id = ol.order_id where ol.id = r.order_line_id;
      alter table reservation
        alter column item_id set not null,
        add check ((for_batch is null) = (batch_input_id is null)),
        add check ((for_order is null) = (order_line_id is null));
    `);
    await db.query(POSTINGS);
    for (const [room, tables] of Object.entries(MEASURED)) await db.query(guardMeasure(room, tables));
  }

  async down(db: QueryRunner): Promise<void> {
    await db.query(`
      drop trigger post_targets on movement;
      drop function post_line, post_input, post_delivery cascade;
      create trigger post_targets after insert on movement for each row
        when (new.cause in ('shipment', 'return', 'consumption', 'correction')) execute function post_targets();
      drop function guard_measure_in_stock, guard_measure_in_orders, guard_measure_in_purchasing cascade;
      alter table reservation drop column item_id, drop column for_batch, drop column for_order;
    `);
  }
}

/** Where amounts of items are kept, by room; those of formulas lie in the room of the items themselves. */
const MEASURED = { stock: ['lot'], orders: ['order_line'], purchasing: ['pack', 'delivery_line'] };

function guardMeasure(room: string, tables: readonly string[]): string {
  return `
    create or replace function guard_measure_in_${room}() returns trigger language plpgsql security definer
      set search_path = public as $$
    begin
      if ${tables.map((table) => `exists (select from ${table} where item_id = new.id)`).join(' or ')} then
        raise exception 'item % already has amounts, so it stays %', new.code, old.measure using errcode = 'LW009';
      end if;
      return new;
    end $$;
    create trigger guard_measure_in_${room} before update of measure on item
      for each row when (new.measure <> old.measure) execute function guard_measure_in_${room}();`;
}

/* Triggers fire by name: what was used of a promise is promised again last. */
const POSTINGS = `
  create or replace function post_line() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    kind text := coalesce((select cause from movement where id = new.reverses_id), new.cause);
  begin
    if kind = 'shipment' then
      update order_line set from_stock = from_stock - new.quantity,
          shipped = shipped - new.quantity - sign(-new.quantity) * new.reported
        where id = new.order_line_id and quantity - shipped - cancelled >= -new.quantity - new.reported
          and from_stock - new.quantity between returned
            and shipped - new.quantity - sign(-new.quantity) * new.reported;
      if not found and new.quantity < 0 then
        raise exception 'the order line has less open than %', -new.quantity using errcode = 'LW005';
      elsif not found then
        raise exception 'some of what was shipped came back: correct that return first' using errcode = 'LW006';
      end if;
    elsif kind = 'return' then
      update order_line set returned = returned + new.quantity
        where id = new.order_line_id and returned + new.quantity <= from_stock;
      if not found then
        raise exception 'less than % was shipped of the line and has not come back', new.quantity using errcode = 'LW005';
      end if;
    end if;
    return null;
  end $$;
  create or replace function post_input() returns trigger language plpgsql security definer set search_path = public as $$
  declare
    kind text := coalesce((select cause from movement where id = new.reverses_id), new.cause);
  begin
    if kind = 'consumption' then
      update batch_input set weighed = weighed - new.quantity, closed = closed and new.quantity < 0
        where id = new.batch_input_id;
    end if;
    return null;
  end $$;
  create or replace function post_delivery() returns trigger language plpgsql security definer set search_path = public as $$
  begin
    if exists (select from movement where id = new.reverses_id and cause = 'receipt') then
      update delivery_line set received = received + new.quantity where id = new.delivery_line_id;
    end if;
    return null;
  end $$;
  create trigger post_line after insert on movement for each row
    when (new.order_line_id is not null and new.cause in ('shipment', 'return', 'correction')) execute function post_line();
  create trigger post_input after insert on movement for each row
    when (new.batch_input_id is not null and new.cause in ('consumption', 'correction')) execute function post_input();
  create trigger post_delivery after insert on movement for each row
    when (new.delivery_line_id is not null and new.cause = 'correction') execute function post_delivery();
  drop trigger post_targets on movement;
  create trigger post_targets after insert on movement for each row
    when (new.cause = 'correction') execute function post_targets()`;
