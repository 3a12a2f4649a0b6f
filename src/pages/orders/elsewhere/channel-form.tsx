import { type Fault, FaultNote, fieldsOf, type Sent, TextField } from '../../../ui/form.js';
import { FormKey } from '../../../ui/form-key.js';
import { WEIGHT_MAX } from '../../../orders/precedence.js';
import { SendsField } from '../sends-form.js';

/** Pages that ask for a channel first, and go on where they were once there is one. */
export const CHANNEL_ASKERS = ['/orders/new', '/orders/import', '/orders/channels', '/start'] as const;
export type ChannelAsker = (typeof CHANNEL_ASKERS)[number];

/** Says where orders come from. */
export function ChannelForm({ then, sent, fault }: { then: ChannelAsker; sent?: Sent; fault?: Fault }): JSX.Element {
  const field = fieldsOf('channel', { sent, fault });
  return (
    <form method="post" action="/orders/channels" class="card">
      <FormKey />
      <FaultNote fault={fault} />
      <input type="hidden" name="then" value={then} />
      <div class="fields">
        <TextField
          {...field('name')}
          label="What it is called"
          hint="Such as Own web shop, or Market stall"
          maxlength={200}
          required
        />
        <TextField
          {...field('code')}
          label="Short name"
          hint="Small letters, digits and dashes, such as webshop"
          maxlength={40}
          required
        />
        <TextField
          {...field('promiseDays', '5')}
          label="Days you promise"
          hint="An order that names no ship-by must go out so many days after it was placed"
          inputmode="numeric"
          maxlength={3}
          required
        />
        <TextField
          {...field('weight', '1')}
          label="Its orders count as"
          hint={`1 to ${WEIGHT_MAX}: where not all can be made in time, what counts for more goes first`}
          inputmode="numeric"
          maxlength={9}
        />
        <SendsField form="channel" fault={fault} sent={sent ?? {}} />
      </div>
      <p>
        <button type="submit" class="main">
          Add this channel
        </button>
      </p>
    </form>
  );
}
