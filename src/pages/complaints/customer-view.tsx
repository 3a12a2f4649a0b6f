import type { ErasurePlace, ErasurePreview } from '../../trace/erasure.schema.js';
import { longDay } from '../../ui/dates.js';
import { type Fault, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { count } from '../../ui/words.js';

/** Kinds of places, in the words of a person. */
const KINDS: Record<string, string> = {
  customer: 'The customer',
  complaint: 'Complaints',
  complaint_entry: 'What was noted of complaints',
  recall_answer: 'Answers to recalls',
  movement: 'Reasons in the ledger',
  state_change: 'Reasons of what was decided',
  message: 'Letters',
  message_file: 'Files sent with letters',
  order_file: 'Reports of order files',
  idempotency: 'Answers kept for requests sent again',
};

export function CustomerView(props: {
  preview: ErasurePreview;
  isErasedNow?: boolean;
  refused?: { sent: Sent; fault: Fault };
}): JSX.Element {
  const { preview, isErasedNow, refused } = props;
  const { customer } = preview;
  return (
    <Page title={customer.name} at="/complaints">
      <h1 safe>{customer.name}</h1>
      {isErasedNow && (
        <p class="note" role="status">
          Who they were is erased. What they got is still found under this number.
        </p>
      )}
      <dl class="facts">
        <dt>How to reach them</dt>
        <dd safe>{customer.contact || 'not known'}</dd>
        <dt>Orders</dt>
        <dd>{customer.orders}</dd>
        <dt>Last parcel</dt>
        <dd safe>{customer.lastShippedOn === null ? 'none' : longDay(customer.lastShippedOn)}</dd>
      </dl>
      {!customer.isErased && (
        <p class="no-print">
          <a class="button" href={`/orders?${new URLSearchParams({ search: customer.name }).toString()}`}>
            Their orders
          </a>
        </p>
      )}
      {!customer.isErased && <Erasure preview={preview} refused={refused} />}
    </Page>
  );
}

/** What would be erased, and the act: without a script, since it is one form. */
function Erasure({
  preview,
  refused,
}: {
  preview: ErasurePreview;
  refused?: { sent: Sent; fault: Fault };
}): JSX.Element {
  const { customer, refusals, places, counts, mayBeTheirs, seen } = preview;
  return (
    <section id="erasure" aria-labelledby="erasure-head">
      <h2 id="erasure-head">Erase who they are</h2>
      <FaultNote fault={refused?.fault} />
      <p>
        What they got stays, under the number of the customer, so that every lot can still be traced. Only what is
        theirs is changed: their orders' and complaints' records and letters to them. What others wrote stays, whatever
        it says.
      </p>
      {refusals.length > 0 && (
        <div class="note care">
          <p>It cannot be done yet:</p>
          <ul>
            {refusals.map((why) => (
              <li safe>{why}</li>
            ))}
          </ul>
        </div>
      )}
      {mayBeTheirs.length > 0 && <MayBeTheirs complaints={mayBeTheirs} />}
      <p safe>{`${count(places.length, 'place')} in all. ${Object.entries(counts)
        .map(([kind, n]) => `${KINDS[kind] ?? kind}: ${n}.`)
        .join(' ')}`}</p>
      <Places places={places} />
      {refusals.length === 0 && (
        <form method="post" action={`/customers/${customer.id}/erase`} class="note care no-print">
          <FormKey />
          <input type="hidden" name="seen" value={seen} />
          <TextField
            name="why"
            form="erase"
            label="Why"
            hint="Kept with the number: do not name them. Such as: asked by letter of 2 March"
            value={refused?.sent['why']}
            fault={refused?.fault}
            required
            maxlength={500}
          />
          <p>This cannot be taken back. It does what stands above, and says so where anything changed since.</p>
          <p>
            <button type="submit">Erase them</button>
          </p>
        </form>
      )}
    </section>
  );
}

function MayBeTheirs({ complaints }: { complaints: ErasurePreview['mayBeTheirs'] }): JSX.Element {
  return (
    <div class="note">
      <p>
        These complaints may be theirs, and stay as they are. If one is, name its order there first, then look again.
      </p>
      <ul>
        {complaints.map(({ complaint, why }) => (
          <li>
            <a href={`/complaints/${complaint}`} safe>
              {complaint}
            </a>
            <span safe>{`: ${why}`}</span>
          </li>
        ))}
      </ul>
    </div>
  );
}

function Places({ places }: { places: readonly ErasurePlace[] }): JSX.Element {
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>Where</th>
          <th>Now</th>
          <th>Afterwards</th>
        </tr>
      </thead>
      <tbody>
        {places.map(({ kind, field, of, before, after }) => (
          <tr>
            <th scope="row">
              <span safe>{KINDS[kind] ?? kind}</span>
              <div class="hint" safe>{`${of}, ${field}`}</div>
            </th>
            <td data-label="Now" class="words" safe>
              {before}
            </td>
            <td data-label="Afterwards" class="words" safe>
              {after === null ? 'goes as a whole' : after === '' ? 'nothing' : after}
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
