import { TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Cell, cell } from './purchase-draft.js';
import type { PurchaseViewProps } from './purchase-props.js';
import { moneyField } from './purchase-words.js';

/** What the supplier answers: when it comes, how much of it, at which price. */
export function PurchaseConfirm(props: PurchaseViewProps): JSX.Element {
  const { order, refused } = props;
  const mine = refused?.form === 'confirm' ? refused : undefined;
  const field = { form: 'confirm', fault: mine?.fault };
  return (
    <section class="no-print">
      <h2>What they confirm</h2>
      <form method="post" action={`/purchase-orders/${order.code}/confirm`}>
        <FormKey />
        <div class="fields">
          <TextField
            {...field}
            name="expectedOn"
            type="date"
            label="It comes on"
            value={mine?.sent['expectedOn']}
            required
          />
          <TextField
            {...field}
            name="reference"
            label="Their number"
            value={mine?.sent['reference'] ?? order.reference}
            maxlength={120}
          />
          <TextField
            {...field}
            name="freight"
            label="Freight"
            value={mine?.sent['freight'] ?? moneyField(order.freightE4)}
            inputmode="decimal"
            hint="Shared over the lines by their worth"
          />
        </div>
        <ConfirmLines {...props} />
        <p class="hint">Fewer packs and no day for the rest: the rest does not come.</p>
        <p>
          <input
            type="checkbox"
            id="confirm-takePrices"
            name="takePrices"
            value="yes"
            checked={mine ? mine.sent['takePrices'] === 'yes' : true}
          />{' '}
          <label class="inline" for="confirm-takePrices">
            Keep changed prices for the next orders
          </label>
        </p>
        <p>
          <button type="submit" class="main">
            It is confirmed
          </button>
        </p>
      </form>
      <form method="post" action={`/purchase-orders/${order.code}/take-back`}>
        <FormKey />
        <p>
          <button type="submit">It was not sent after all</button>
        </p>
        {order.letter?.status === 'sent' && <p class="hint">Its email has left and is not called back: tell them.</p>}
      </form>
    </section>
  );
}

function ConfirmLines({ order, refused }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'confirm' ? refused : undefined;
  return (
    <table class="stack entry purchase">
      <thead>
        <tr>
          <th>Pack</th>
          <th>Packs</th>
          <th>Price each</th>
          <th>Another day</th>
          <th>The rest comes</th>
        </tr>
      </thead>
      <tbody>
        {order.lines.map((line, row) => (
          <tr>
            <th scope="row" safe>
              {`${line.pack} (${line.packs} asked for)`}
            </th>
            <td data-label="Packs">
              <Cell
                {...cell(mine, row, 'packs', String(line.packs), `Packs of ${line.pack} that come`)}
                mode="numeric"
              />
            </td>
            <td data-label="Price each">
              <Cell {...cell(mine, row, 'price', moneyField(line.priceE4), `Price of ${line.pack}`)} mode="decimal" />
            </td>
            <td data-label="Another day">
              <Cell {...cell(mine, row, 'on', '', `${line.pack} comes on another day`)} type="date" />
            </td>
            <td data-label="The rest comes">
              <Cell {...cell(mine, row, 'later', '', `The rest of ${line.pack} comes on`)} type="date" />
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}
