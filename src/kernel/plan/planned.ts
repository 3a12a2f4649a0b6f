import type { Job } from './job.js';
import type { Netted } from './netting.js';
import type { Placed } from './schedule-job.js';
import type { ShelfPlan } from './shelf.js';

/** What must be made, when and where each batch is, and what everything takes off the shelf. */
export interface Planned {
  netted: Netted;
  placed: Map<Job, Placed>;
  shelf: ShelfPlan;
}
