import type { ReminderKind } from '../../messages/messages.schema.js';

/** What each kind of reminder is called. */
export const KIND_WORDS: Record<ReminderKind, string> = {
  shortfall: 'Short',
  reorder: 'Order',
  'late-delivery': 'Late delivery',
  expiring: 'Last day',
  'rest-over': 'Rested',
  sample: 'Sample',
  certificate: 'Use limit',
  count: 'Count',
};

/** Of what kind something is told, as a choice whether to send it. */
export const KIND_LONG: Record<ReminderKind, string> = {
  shortfall: 'something will be short, whatever is ordered now',
  reorder: 'something must be ordered',
  'late-delivery': 'a delivery has not come',
  expiring: 'a lot comes to its last day with something left',
  'rest-over': 'a batch has rested',
  sample: 'a kept sample may be thrown away',
  certificate: 'use limits were looked up long ago',
  count: 'a shelf was not counted for long',
};
