import type { Database } from '../../platform/database.js';
import type { SnapshotService } from '../snapshot.service.js';

/** What a thread that plans answers from: a connection of its own, and what it has read and planned before. */
export interface Means {
  database: Database;
  snapshots: SnapshotService;
}

/**
 * Something that is answered by planning, which would hold up everybody else: a thread of its own does it, from the
 * question to the text of the answer. Both are plain data.
 */
export interface Question<Asked, Answer> {
  /** No other question is called so. */
  name: string;
  answer(means: Means, asked: Asked): Promise<Answer>;
}
