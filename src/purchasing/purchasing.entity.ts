import { Column, Entity } from 'typeorm';
import { GeneratedId } from '../platform/generated-id.js';

export const DELIVERY_STATUSES = ['expected', 'received', 'cancelled'] as const;
export type DeliveryStatus = (typeof DELIVERY_STATUSES)[number];

/** Whom materials are bought from. */
@Entity('supplier')
export class Supplier {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'text' })
  name!: string;

  /** Weekdays on which they take orders, 0 Monday to 6 Sunday; none: any day. */
  @Column({ type: 'int', array: true, name: 'order_days', default: [] })
  orderDays!: number[];

  @Column({ type: 'bigint', name: 'minimum_order_e4', default: 0 })
  minimumOrderE4!: number;

  @Column({ type: 'bigint', name: 'freight_e4', default: 0 })
  freightE4!: number;

  @Column({ type: 'bigint', name: 'freight_free_from_e4', nullable: true })
  freightFreeFromE4!: number | null;

  @Column({ type: 'text', default: '' })
  email!: string;

  @Column({ type: 'text', default: '' })
  account!: string;

  @Column({ type: 'text', default: '' })
  address!: string;
}

/** A supplier's pack of a material; `size` in the item's base unit, `priceE4` for one pack. */
@Entity('pack')
export class Pack {
  @GeneratedId()
  id!: number;

  @Column({ type: 'bigint', name: 'supplier_id' })
  supplierId!: number;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'bigint' })
  size!: number;

  @Column({ type: 'bigint', name: 'price_e4' })
  priceE4!: number;

  @Column({ type: 'int', name: 'least_packs' })
  leastPacks!: number;

  @Column({ type: 'int', name: 'lead_days' })
  leadDays!: number;

  @Column({ type: 'boolean' })
  withdrawn!: boolean;
}

/** What a supplier is expected to bring, or has brought, on a day. */
@Entity('delivery')
export class Delivery {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'bigint', name: 'supplier_id' })
  supplierId!: number;

  @Column({ type: 'text' })
  status!: DeliveryStatus;

  @Column({ type: 'date', name: 'ordered_on', nullable: true })
  orderedOn!: string | null;

  @Column({ type: 'date', name: 'expected_on' })
  expectedOn!: string;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;

  @Column({ type: 'timestamptz', name: 'created_at', insert: false, update: false })
  createdAt!: Date;
}

/** One item of a delivery. `promised` follows the reservations on it and is never written from here. */
@Entity('delivery_line')
export class DeliveryLine {
  @GeneratedId()
  id!: number;

  @Column({ type: 'bigint', name: 'delivery_id' })
  deliveryId!: number;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'bigint', name: 'pack_id', nullable: true })
  packId!: number | null;

  @Column({ type: 'int', nullable: true })
  packs!: number | null;

  @Column({ type: 'bigint' })
  quantity!: number;

  @Column({ type: 'bigint' })
  received!: number;

  @Column({ type: 'bigint', insert: false, update: false })
  promised!: number;

  @Column({ type: 'bigint', name: 'cost_e4' })
  costE4!: number;

  @Column({ type: 'date', name: 'expires_on', nullable: true })
  expiresOn!: string | null;
}
