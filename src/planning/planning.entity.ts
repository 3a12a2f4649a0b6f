import { Column, Entity } from 'typeorm';
import type { Proposal } from '../kernel/plan/proposal.js';
import type { Snapshot } from '../kernel/plan/snapshot.js';
import { GeneratedId } from '../platform/generated-id.js';

/** The week's plan: a draft proposes and reserves nothing; a committed run has its lots reserved. */
@Entity('run')
export class Run {
  @GeneratedId()
  id!: number;

  @Column({ type: 'date', name: 'week_start' })
  weekStart!: string;

  @Column({ type: 'date', name: 'planned_on' })
  plannedOn!: string;

  @Column({ type: 'text' })
  status!: 'draft' | 'committed' | 'undone';

  @Column({ type: 'text', name: 'snapshot_hash' })
  snapshotHash!: string;

  @Column({ type: 'jsonb', select: false })
  snapshot!: Snapshot;

  @Column({ type: 'jsonb', select: false })
  proposal!: Proposal;

  @Column({ type: 'text', name: 'created_by', insert: false, update: false })
  createdBy!: string;

  @Column({ type: 'timestamptz', name: 'created_at', insert: false, update: false })
  createdAt!: Date;

  @Column({ type: 'timestamptz', name: 'committed_at', nullable: true })
  committedAt!: Date | null;
}
