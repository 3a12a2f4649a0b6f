import type { Basis } from '../kernel/formula/formula.js';
import { Column, Entity, PrimaryColumn } from 'typeorm';
import { GeneratedId } from '../platform/generated-id.js';

export const STEPS = ['make', 'fill', 'pack'] as const;
export type Step = (typeof STEPS)[number];

/** One version of how a made item is made. Batch amounts count what comes out: milligrams, or units of a product. */
@Entity('formula')
export class Formula {
  @GeneratedId()
  id!: number;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'int' })
  version!: number;

  @Column({ type: 'boolean' })
  withdrawn!: boolean;

  @Column({ type: 'text', name: 'vessel_kind', nullable: true })
  vesselKind!: string | null;

  @Column({ type: 'bigint', name: 'batch_min' })
  batchMin!: number;

  @Column({ type: 'bigint', name: 'batch_max', nullable: true })
  batchMax!: number | null;

  @Column({ type: 'bigint', name: 'batch_multiple' })
  batchMultiple!: number;

  @Column({ type: 'bigint', name: 'loss_ppb' })
  lossPpb!: number;

  @Column({ type: 'bigint', name: 'residue_mg' })
  residueMg!: number;

  @Column({ type: 'int', name: 'minutes_batch' })
  minutesBatch!: number;

  @Column({ type: 'int', name: 'seconds_unit' })
  secondsUnit!: number;

  @Column({ type: 'int', name: 'rest_days' })
  restDays!: number;

  @Column({ type: 'text', nullable: true })
  skill!: string | null;

  @Column({ type: 'text' })
  note!: string;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;

  @Column({ type: 'timestamptz', name: 'created_at', insert: false, update: false })
  createdAt!: Date;
}

/** One ingredient. `amount` is ppb for share and load, ppb of one for ratio, the item's base unit for each and fixed. */
@Entity('formula_line')
export class FormulaLine {
  @PrimaryColumn({ type: 'bigint', name: 'formula_id' })
  formulaId!: number;

  @PrimaryColumn({ type: 'int' })
  position!: number;

  @Column({ type: 'bigint', name: 'item_id' })
  itemId!: number;

  @Column({ type: 'text' })
  basis!: Basis;

  @Column({ type: 'bigint', nullable: true })
  amount!: number | null;

  @Column({ type: 'boolean', name: 'is_base' })
  isBase!: boolean;

  @Column({ type: 'int', array: true, name: 'ratio_of' })
  ratioOf!: number[];

  @Column({ type: 'text' })
  step!: Step;

  @Column({ type: 'bigint', name: 'part_ppb', nullable: true })
  partPpb!: number | null;
}

/** One instruction of the method, in the phase it belongs to. */
@Entity('formula_step')
export class FormulaStep {
  @PrimaryColumn({ type: 'bigint', name: 'formula_id' })
  formulaId!: number;

  @PrimaryColumn({ type: 'int' })
  position!: number;

  @Column({ type: 'text' })
  phase!: Step;

  @Column({ type: 'text' })
  instruction!: string;
}
