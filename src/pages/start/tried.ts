import type { Fault, Sent } from '../../ui/form.js';

/** A form of a page, and what was wrong with it. */
export interface Tried<Form extends string = 'settings' | 'vessel' | 'items' | 'lot' | 'remove' | 'demo'> {
  form: Form;
  sent: Sent;
  fault: Fault;
}

/** What was typed into a form of the page, and what was wrong with it. */
export interface FormState {
  sent: Sent | undefined;
  fault: Fault | undefined;
}

/** The state of one form of a page on which one may have been tried. */
export const stateOf = <Form extends string>(tried: Tried<Form> | undefined, form: NoInfer<Form>): FormState =>
  tried?.form === form ? { sent: tried.sent, fault: tried.fault } : { sent: undefined, fault: undefined };
