import type { KeyedRequest } from '../../platform/idempotency.js';
import type { ProblemContent } from '../../platform/problem.js';

/** Where a thread finds the database, and whose disk it looks at before it writes. */
export interface Where {
  url: string;
  disk: { home: string; databaseUrl?: string };
}

/** A question as it is sent to a thread. */
export interface Asking {
  where: Where;
  question: string;
  asked: unknown;
  /** The request that is being answered, where it has a key: its one act may be done there. */
  keyed?: Pick<KeyedRequest, 'who' | 'route' | 'key' | 'hasActed'> & { hash: string; status: number };
}

/** What is to be told instead of an answer: a problem, or a fault of the program. */
export type Failure = { problem: ProblemContent } | { fault: { message: string; stack?: string } };

/** What comes back: the answer as JSON in UTF-8, or why there is none. */
export type Answered = { hasActed: boolean; isHit: boolean } & ({ json: Uint8Array } | Failure);
