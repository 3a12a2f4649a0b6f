import { Column, Entity, PrimaryColumn } from 'typeorm';
import { GeneratedId } from '../platform/generated-id.js';
import type { Sends } from './sends.js';

/** waiting: not yet paid or confirmed, so not planned. */
export const ORDER_STATUSES = ['waiting', 'confirmed', 'fulfilled', 'cancelled'] as const;
export type OrderStatus = (typeof ORDER_STATUSES)[number];

/** Where orders come from. */
@Entity('channel')
export class Channel {
  @PrimaryColumn({ type: 'text' })
  code!: string;

  @Column({ type: 'text' })
  name!: string;

  /** Days from placing to shipping that the channel promises where an order says nothing. */
  @Column({ type: 'int', name: 'promise_days' })
  promiseDays!: number;

  /** What its orders count as, 1 to 100, where they say nothing themselves. */
  @Column({ type: 'int' })
  weight!: number;

  /** How its orders are sent, where they say nothing themselves. */
  @Column({ type: 'text' })
  sends!: Sends;
}

@Entity('customer')
export class Customer {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  name!: string;
}

@Entity('customer_order')
export class CustomerOrder {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  channel!: string;

  @Column({ type: 'text' })
  number!: string;

  @Column({ type: 'bigint', name: 'customer_id', nullable: true })
  customerId!: number | null;

  @Column({ type: 'date', name: 'placed_on' })
  placedOn!: string;

  @Column({ type: 'text' })
  status!: OrderStatus;

  /** What it counts as beside others, 1 to 100; null where it counts as its channel's do. */
  @Column({ type: 'int', nullable: true })
  weight!: number | null;

  /** Before all that are not, whatever these weigh. */
  @Column({ type: 'boolean' })
  urgent!: boolean;

  /** How it is sent; null where it is sent as its channel's orders are. */
  @Column({ type: 'text', nullable: true })
  sends!: Sends | null;
}

/** Quantities are units of the item; open is quantity less shipped and cancelled. */
@Entity('order_line')
export class OrderLine {
  @GeneratedId()
  id!: number;

  @Column({ type: 'bigint', name: 'order_id' })
  orderId!: number;

  @Column({ type: 'text', name: 'shop_code' })
  shopCode!: string;

  @Column({ type: 'int' })
  occurrence!: number;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'bigint' })
  quantity!: number;

  @Column({ type: 'bigint' })
  shipped!: number;

  @Column({ type: 'bigint' })
  cancelled!: number;

  @Column({ type: 'date', name: 'ship_by' })
  shipBy!: string;

  @Column({ type: 'date', name: 'not_before', nullable: true })
  notBefore!: string | null;
}
