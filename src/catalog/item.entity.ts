import { Column, Entity, PrimaryColumn } from 'typeorm';
import type { Measure } from '../kernel/measure/quantity.js';
import { GeneratedId } from '../platform/generated-id.js';

export const ITEM_KINDS = ['material', 'bulk', 'product', 'set'] as const;
export const MEASURES = ['weighed', 'counted'] as const;
export const FAMILIES = [
  'fragrance',
  'base',
  'container',
  'label',
  'spray',
  'body',
  'diffuser',
  'candle',
  'soap',
  'other',
] as const;
export const POLICIES = ['to-order', 'to-stock', 'seasonal', 'discontinued'] as const;
export const LOT_DATE_KINDS = ['expiry', 'best-before', 'retest'] as const;

export type ItemKind = (typeof ITEM_KINDS)[number];
export type Family = (typeof FAMILIES)[number];
export type Policy = (typeof POLICIES)[number];
export type LotDateKind = (typeof LOT_DATE_KINDS)[number];

/** Anything held on the shelf. Amounts are milligrams when weighed, units when counted. */
@Entity('item')
export class Item {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'text' })
  name!: string;

  @Column({ type: 'text' })
  kind!: ItemKind;

  @Column({ type: 'text' })
  measure!: Measure;

  @Column({ type: 'text' })
  family!: Family;

  /** In the maker's own words, in small letters: light, heavy, citrus. */
  @Column({ type: 'text', nullable: true })
  scent!: string | null;

  @Column({ type: 'bigint', name: 'density_ug_per_ml', nullable: true })
  densityUgPerMl!: number | null;

  @Column({ type: 'text' })
  policy!: Policy;

  @Column({ type: 'bigint' })
  target!: number;

  @Column({ type: 'date', name: 'season_from', nullable: true })
  seasonFrom!: string | null;

  @Column({ type: 'date', name: 'season_to', nullable: true })
  seasonTo!: string | null;

  @Column({ type: 'boolean' })
  stocked!: boolean;

  @Column({ type: 'text', name: 'lot_date_kind' })
  lotDateKind!: LotDateKind;

  @Column({ type: 'int', name: 'shelf_life_days', nullable: true })
  shelfLifeDays!: number | null;

  @Column({ type: 'int', name: 'owed_life_days' })
  owedLifeDays!: number;

  @Column({ type: 'bigint' })
  heel!: number;

  @Column({ type: 'boolean', name: 'quarantined_on_arrival' })
  quarantinedOnArrival!: boolean;

  @Column({ type: 'boolean' })
  flammable!: boolean;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;

  @Column({ type: 'timestamptz', name: 'created_at', insert: false, update: false })
  createdAt!: Date;
}

/** The largest part of a fragrance allowed in a category of product, as its maker's certificate states it. */
@Entity('use_limit')
export class UseLimit {
  @PrimaryColumn({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @PrimaryColumn({ type: 'text' })
  category!: string;

  @Column({ type: 'bigint', name: 'limit_ppb' })
  limitPpb!: number;

  @Column({ type: 'text' })
  source!: string;

  @Column({ type: 'date' })
  dated!: string;
}
