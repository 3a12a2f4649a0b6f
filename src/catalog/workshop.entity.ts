import { Column, Entity, PrimaryColumn } from 'typeorm';
import type { SaidTerm } from '../kernel/plan/terms.js';
import { GeneratedId } from '../platform/generated-id.js';

/** us: weights are read in ounces and pounds beside the metric ones, which stay what is kept. */
export const UNIT_SYSTEMS = ['metric', 'us'] as const;
export type UnitSystem = (typeof UNIT_SYSTEMS)[number];

/** The one row that says how this workshop works; without it the defaults of the columns hold. */
@Entity('workshop')
export class Workshop {
  @PrimaryColumn({ type: 'int' })
  id!: number;

  @Column({ type: 'text' })
  name!: string;

  @Column({ type: 'text', name: 'time_zone' })
  timeZone!: string;

  @Column({ type: 'text' })
  currency!: string;

  @Column({ type: 'text' })
  units!: UnitSystem;

  /** Hands-on minutes a day, Monday first; 0 is closed. */
  @Column({ type: 'int', array: true, name: 'bench_minutes' })
  benchMinutes!: number[];

  @Column({ type: 'int', name: 'slack_days' })
  slackDays!: number;

  @Column({ type: 'int', name: 'receiving_days' })
  receivingDays!: number;

  @Column({ type: 'bigint', name: 'scale_step_mg' })
  scaleStepMg!: number;

  @Column({ type: 'bigint', name: 'scale_least_mg' })
  scaleLeastMg!: number;

  /** What an hour at the bench costs, in 1/10 000 of the currency unit; null leaves labour out of what a lot is worth. */
  @Column({ type: 'bigint', name: 'labour_rate_e4', nullable: true })
  labourRateE4!: number | null;

  /** Of what was used: how far the loss of a batch may depart from its formula's without a reason. */
  @Column({ type: 'bigint', name: 'loss_tolerance_ppb' })
  lossTolerancePpb!: number;

  /** Of a line: how far its weight may depart from what was meant. */
  @Column({ type: 'bigint', name: 'weigh_tolerance_ppb' })
  weighTolerancePpb!: number;

  /** What is made keeps no longer than the earliest date of what went into it. */
  @Column({ type: 'boolean', name: 'is_best_before_of_materials' })
  isBestBeforeOfMaterials!: boolean;

  /** Which terms of what plans cost count before all others, the first first; none where they count as usual. */
  @Column({ type: 'text', array: true, name: 'plan_terms' })
  planTerms!: SaidTerm[];

  @Column({ type: 'boolean', name: 'is_demo' })
  isDemo!: boolean;
}

/** A kettle, melter, jug or mould: busy from pour until emptied. */
@Entity('vessel')
export class Vessel {
  @GeneratedId()
  id!: number;

  @Column({ type: 'text' })
  code!: string;

  @Column({ type: 'text' })
  kind!: string;

  @Column({ type: 'bigint', name: 'capacity_mg' })
  capacityMg!: number;
}

/** A day without hands-on work. */
@Entity('closed_day')
export class ClosedDay {
  @PrimaryColumn({ type: 'date' })
  day!: string;

  @Column({ type: 'text' })
  why!: string;
}
