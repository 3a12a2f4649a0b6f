import type { ChannelView, OrderView as Order } from '../../orders/orders.schema.js';
import { SENDS } from '../../orders/sends.js';
import { orderAddress } from '../../ui/addresses.js';
import { ChoiceField, type Fault, FaultNote, type Sent, written } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { SENDS_WORDS } from '../../ui/sends.js';
import { capital } from '../../ui/words.js';

type Choice = readonly [value: string, words: string];

const ANSWERS = SENDS.map((sends): Choice => [sends, capital(SENDS_WORDS[sends])]);

/** How an order is sent, or those of a channel: on a form of its own and on that of a new one. */
export function SendsField(props: { form: string; sent: Sent; fault: Fault | undefined; first?: Choice }): JSX.Element {
  const { form, sent, fault, first } = props;
  return (
    <ChoiceField
      form={form}
      fault={fault}
      name="sends"
      label={first ? 'How it is sent' : 'How its orders are sent'}
      value={sent['sends']}
      choices={first ? [first, ...ANSWERS] : ANSWERS}
    />
  );
}

export const AS_ITS_CHANNEL: Choice = ['', 'As its channel'];

/** How a form means an order to be sent; undefined where it says nothing. */
export const sendsOf = (sent: Sent): string | undefined => written(sent, 'sends');

/** How an order is sent, in words. */
export const sendsText = ({ sends, sentAs }: Pick<Order, 'sends' | 'sentAs'>): string =>
  sends === null ? `${SENDS_WORDS[sentAs]}, as its channel` : SENDS_WORDS[sends];

/** Says of an order that is under way how it is sent. */
export function SendsForm(props: {
  order: Order;
  channel: ChannelView;
  refused?: { sent: Sent; fault: Fault };
}): JSX.Element {
  const { order, channel, refused } = props;
  const now: Sent = order.sends === null ? {} : { sends: order.sends };
  return (
    <details open={refused !== undefined}>
      <summary>Send it all at once, or in parts</summary>
      <form method="post" action={`${orderAddress(order)}/sends`}>
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <SendsField
          form="sends"
          sent={refused?.sent ?? now}
          fault={refused?.fault}
          first={['', `As its channel: ${SENDS_WORDS[channel.sends]}`]}
        />
        <p>
          <button type="submit">Keep this</button>
        </p>
      </form>
    </details>
  );
}
