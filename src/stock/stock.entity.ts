import { Column, Entity } from 'typeorm';
import { GeneratedId } from '../platform/generated-id.js';

export const LOT_STATUSES = ['quarantine', 'released', 'held', 'rejected'] as const;
export type LotStatus = (typeof LOT_STATUSES)[number];

export type Cause =
  | 'receipt'
  | 'consumption'
  | 'production'
  | 'shipment'
  | 'return'
  | 'return-to-supplier'
  | 'count'
  | 'scrap'
  | 'sample'
  | 'trial'
  | 'own-use'
  | 'split'
  | 'correction'
  | 'revaluation';

/**
 * An identifiable quantity of one item in one place. `onHand`, `reserved` and `valueE4` follow the ledger: only the
 * database's triggers change them, so they are never written from here.
 */
@Entity('lot')
export class Lot {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'text' })
  status!: LotStatus;

  @Column({ type: 'bigint', name: 'on_hand', insert: false, update: false })
  onHand!: number;

  @Column({ type: 'bigint', insert: false, update: false })
  reserved!: number;

  @Column({ type: 'bigint', name: 'value_e4', insert: false, update: false })
  valueE4!: number;

  /** The last usable day, inclusive; null never expires. */
  @Column({ type: 'date', name: 'expires_on', nullable: true })
  expiresOn!: string | null;

  @Column({ type: 'date', name: 'came_on' })
  cameOn!: string;

  @Column({ type: 'text' })
  place!: string;

  @Column({ type: 'bigint', name: 'supplier_id', nullable: true })
  supplierId!: number | null;

  @Column({ type: 'text', name: 'supplier_lot' })
  supplierLot!: string;

  @Column({ type: 'text' })
  certificate!: string;

  @Column({ type: 'bigint', name: 'parent_lot_id', nullable: true })
  parentLotId!: number | null;

  @Column({ type: 'bigint', name: 'batch_id', nullable: true })
  batchId!: number | null;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;

  @Column({ type: 'timestamptz', name: 'created_at', insert: false, update: false })
  createdAt!: Date;
}

/** One entry of the ledger, never changed or deleted. The database sets the value of what leaves. */
@Entity('movement')
export class Movement {
  @GeneratedId()
  id!: number;

  @Column({ type: 'bigint', name: 'lot_id', update: false })
  lotId!: number;

  @Column({ type: 'text', update: false })
  cause!: Cause;

  @Column({ type: 'bigint', update: false })
  quantity!: number;

  @Column({ type: 'bigint', name: 'value_e4', update: false })
  valueE4!: number;

  @Column({ type: 'date', name: 'done_on', update: false })
  doneOn!: string;

  @Column({ type: 'timestamptz', name: 'recorded_at', insert: false, update: false })
  recordedAt!: Date;

  @Column({ type: 'text', update: false })
  reason!: string;

  @Column({ type: 'bigint', name: 'reservation_id', nullable: true, update: false })
  reservationId!: number | null;

  @Column({ type: 'bigint', name: 'batch_id', nullable: true, update: false })
  batchId!: number | null;

  @Column({ type: 'bigint', name: 'order_line_id', nullable: true, update: false })
  orderLineId!: number | null;

  @Column({ type: 'bigint', name: 'delivery_line_id', nullable: true, update: false })
  deliveryLineId!: number | null;

  @Column({ type: 'bigint', name: 'other_lot_id', nullable: true, update: false })
  otherLotId!: number | null;

  @Column({ type: 'bigint', name: 'reverses_id', nullable: true, update: false })
  reversesId!: number | null;

  @Column({ type: 'bigint', name: 'batch_input_id', nullable: true, update: false })
  batchInputId!: number | null;

  @Column({ type: 'bigint', name: 'shipment_id', nullable: true, update: false })
  shipmentId!: number | null;

  @Column({ type: 'bigint', name: 'price_difference_id', nullable: true, update: false })
  priceDifferenceId!: number | null;

  /** The entry that booked what the lot held beyond the book, for this weighing. */
  @Column({ type: 'bigint', name: 'found_id', nullable: true, update: false })
  foundId!: number | null;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;
}
