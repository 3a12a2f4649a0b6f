/** What a client asks for. The same word is used in the journal, the check and the printed figures. */
export type Kind =
  | 'receive'
  | 'set-aside'
  | 'free'
  | 'weigh'
  | 'ship'
  | 'count'
  | 'scrap'
  | 'hold'
  | 'release'
  | 'order'
  | 'draft'
  | 'commit';

/**
 * One act. Its id is its idempotency key and also the person who acts, so that every row the act leaves behind, in
 * whatever table, says by itself which operation made it.
 */
export interface Operation {
  id: string;
  kind: Kind;
  path: string;
  body: unknown;
}

export interface Answer {
  status: number;
  /** The body as it came. */
  text: string;
  body: Record<string, unknown>;
  /** The server says it had done this before and answers what it answered then. */
  isReplay: boolean;
}

/** The code of a problem, or '' of anything else. */
export function codeOf(answer: Pick<Answer, 'body'>): string {
  return typeof answer.body['code'] === 'string' ? answer.body['code'] : '';
}
