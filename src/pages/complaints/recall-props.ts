import type { HoldEffects, RecallListView, RecallView as Recall } from '../../trace/recall.schema.js';
import type { Refused } from './complaint-view.js';

export const RECALL_SAID = ['held', 'lifted', 'written', 'answered', 'noted', 'closed', 'reopened', 'wider'] as const;

export type RecallSaid = (typeof RECALL_SAID)[number];

export interface RecallProps {
  recall: Recall;
  list: RecallListView;
  effects: HoldEffects;
  /** Letters for a mail program, by order. */
  mails: ReadonlyMap<string, string>;
  said?: RecallSaid;
  refused?: Refused;
}
