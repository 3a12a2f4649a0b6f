import type { Fault, Sent } from '../../ui/form.js';

/** A form of the page, and what was wrong with it. */
export interface Tried {
  form: 'settings' | 'vessel' | 'items' | 'lot' | 'remove' | 'demo';
  sent: Sent;
  fault: Fault;
}

/** What was typed into a form of the page, and what was wrong with it. */
export interface FormState {
  sent: Sent | undefined;
  fault: Fault | undefined;
}
