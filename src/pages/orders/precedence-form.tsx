import type { OrderView as Order } from '../../orders/orders.schema.js';
import { WEIGHT_MAX } from '../../orders/precedence.js';
import { orderAddress } from '../../ui/addresses.js';
import { FormKey } from '../../ui/form-key.js';
import { type Fault, FaultNote, type Sent, TextField, Tick, wholeOrText, written } from '../../ui/form.js';

/** The two fields by which an order goes before others, on a form of its own and on that of a new one. */
export function PrecedenceFields(props: { form: string; sent: Sent; fault: Fault | undefined }): JSX.Element {
  const { form, sent, fault } = props;
  return (
    <>
      <Tick name="urgent" words="Urgent: goes before all others" isOn={sent['urgent'] !== undefined} />
      <div class="fields">
        <TextField
          form={form}
          fault={fault}
          name="weight"
          label="Counts as"
          hint={`1 to ${WEIGHT_MAX}: where not all can be made in time, what counts for more goes first. Left empty: as its channel`}
          value={sent['weight']}
          inputmode="numeric"
          maxlength={9}
        />
      </div>
    </>
  );
}

/** The weight a form means; undefined where the field is left empty. */
export const weightOf = (sent: Sent): number | string | undefined => wholeOrText(written(sent, 'weight'));

/** What an order counts as, in words. */
export const countsAsText = ({ weight, countsAs }: Pick<Order, 'weight' | 'countsAs'>): string =>
  weight === null ? `${countsAs}, as its channel` : String(countsAs);

/** Says of an order that is under way whether it is urgent and what it counts as. */
export function PrecedenceForm(props: { order: Order; refused?: { sent: Sent; fault: Fault } }): JSX.Element {
  const { order, refused } = props;
  const now: Sent = {
    ...(order.urgent && { urgent: 'yes' }),
    ...(order.weight !== null && { weight: String(order.weight) }),
  };
  return (
    <details open={refused !== undefined}>
      <summary>{order.urgent ? 'Urgent, and what it counts as' : 'Make it urgent, or count for more'}</summary>
      <form method="post" action={`${orderAddress(order)}/precedence`}>
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <PrecedenceFields form="precedence" sent={refused?.sent ?? now} fault={refused?.fault} />
        <p>
          <button type="submit">Keep this</button>
        </p>
      </form>
    </details>
  );
}
