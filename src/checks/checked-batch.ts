import type { Family, ItemKind } from '../catalog/item.entity.js';

/** The batch that is looked at, and what it makes. */
export interface CheckedBatch {
  id: number;
  code: string;
  status: string;
  /** What came out, or is meant to. */
  output: number;
  itemId: number;
  item: string;
  kind: ItemKind;
  family: Family;
}
