import { type Measure, printQuantity } from '../../kernel/measure/quantity.js';
import { longDay } from '../../ui/dates.js';
import type { PurchaseOrderView } from '../../purchasing/purchase-orders.schema.js';
import { TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Cell, cell } from './purchase-draft.js';
import type { PurchaseForm } from './purchase-forms.js';
import type { PurchaseViewProps } from './purchase-props.js';
import { moneyField } from './purchase-words.js';
import { exactText } from '../../ui/amounts.js';

type Delivery = PurchaseOrderView['deliveries'][number];

const DELIVERY_WORDS: Record<Delivery['status'], string> = {
  expected: 'expected',
  received: 'here',
  cancelled: 'given up',
};

/** What is expected when, to take it in, to expect it on another day, or no more. */
export function PurchaseDeliveries(props: PurchaseViewProps): JSX.Element {
  const { order, today } = props;
  return (
    <section>
      <h2>Deliveries</h2>
      {order.deliveries.map((delivery) => (
        <section>
          <h3 safe>
            {`${delivery.code}: ${DELIVERY_WORDS[delivery.status]} ${longDay(delivery.expectedOn)}${delivery.status === 'expected' && delivery.expectedOn < today ? ', which is past' : ''}`}
          </h3>
          {delivery.status === 'expected' && (
            <div class="no-print">
              <Receive {...props} delivery={delivery} />
              <div class="folds">
                <Redate {...props} delivery={delivery} />
                <End {...props} delivery={delivery} />
              </div>
            </div>
          )}
        </section>
      ))}
      {order.status === 'confirmed' && <Freight {...props} />}
    </section>
  );
}

type WithDelivery = PurchaseViewProps & { delivery: Delivery };

const mineOf = ({ refused, delivery }: WithDelivery, form: PurchaseForm) =>
  refused?.form === form && refused.delivery === delivery.code ? refused : undefined;

function Receive(props: WithDelivery): JSX.Element {
  const { order, delivery, today } = props;
  const mine = mineOf(props, 'receive');
  return (
    <form method="post" action={`/purchase-orders/${order.code}/receive`}>
      <FormKey />
      <input type="hidden" name="delivery" value={delivery.code} />
      <CameLines {...props} />
      <p class="hint">Nothing written: nothing of it came. No date: by how long the item keeps.</p>
      <div class="fields">
        <TextField
          form={`receive-${delivery.code}`}
          name="receivedOn"
          type="date"
          label="It came on"
          value={mine?.sent['receivedOn'] ?? today}
          fault={mine?.fault}
        />
      </div>
      <p>
        <input
          type="checkbox"
          id={`rest-${delivery.code}`}
          name="rest"
          value="yes"
          checked={mine ? mine.sent['rest'] === 'yes' : true}
        />{' '}
        <label class="inline" for={`rest-${delivery.code}`}>
          What is missing still comes
        </label>
      </p>
      <p>
        <button type="submit" class="main">
          Take it in
        </button>
      </p>
    </form>
  );
}

function CameLines(props: WithDelivery): JSX.Element {
  const { order, delivery } = props;
  const mine = mineOf(props, 'receive');
  return (
    <table class="stack entry purchase">
      <thead>
        <tr>
          <th>What</th>
          <th>Came</th>
          <th>Their lot</th>
          <th>Good until</th>
        </tr>
      </thead>
      <tbody>
        {delivery.lines.map((line, row) => {
          const of = order.lines.find((one) => one.line === line.of)!;
          const missing = Math.max(0, line.quantity - line.received);
          // as it is typed: grams only, whatever the workshop reads beside them
          const value = missing === 0 ? '' : fieldText(missing, of.measure);
          return (
            <tr>
              <th scope="row">
                <span safe>{of.name}</span>
                <div class="hint" safe>
                  {`${line.packs} × ${of.pack}, ${exactText(line.quantity, of.measure)}${line.received > 0 ? `, ${exactText(line.received, of.measure)} here` : ''}`}
                </div>
              </th>
              <td data-label="Came">
                <Cell {...cell(mine, row, 'quantity', value, `Came of ${of.name}`, delivery.code)} />
              </td>
              <td data-label="Their lot">
                <Cell {...cell(mine, row, 'lot', '', `The supplier's lot of ${of.name}`, delivery.code)} />
              </td>
              <td data-label="Good until">
                <Cell {...cell(mine, row, 'expires', '', `Last good day of ${of.name}`, delivery.code)} type="date" />
              </td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

const fieldText = (quantity: number, measure: Measure): string =>
  measure === 'counted' ? String(quantity) : printQuantity(quantity, measure);

function Redate(props: WithDelivery): JSX.Element {
  const { order, delivery } = props;
  const mine = mineOf(props, 'date');
  return (
    <details open={mine !== undefined}>
      <summary>Expect it on another day</summary>
      <form method="post" action={`/purchase-orders/${order.code}/date`}>
        <FormKey />
        <input type="hidden" name="delivery" value={delivery.code} />
        <TextField
          form={`date-${delivery.code}`}
          name="expectedOn"
          type="date"
          label="It comes on"
          value={mine?.sent['expectedOn'] ?? delivery.expectedOn}
          fault={mine?.fault}
          required
        />
        <p>
          <button type="submit">Expect it then</button>
        </p>
      </form>
    </details>
  );
}

function End(props: WithDelivery): JSX.Element {
  const { order, delivery } = props;
  const mine = mineOf(props, 'end');
  return (
    <details open={mine !== undefined}>
      <summary>Nothing more of it comes</summary>
      <form method="post" action={`/purchase-orders/${order.code}/end`}>
        <FormKey />
        <input type="hidden" name="delivery" value={delivery.code} />
        <TextField
          form={`end-${delivery.code}`}
          name="why"
          label="Why"
          value={mine?.sent['why']}
          fault={mine?.fault}
          required
        />
        <p>
          <button type="submit">Expect it no more</button>
        </p>
      </form>
    </details>
  );
}

function Freight({ order, refused }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'freight' ? refused : undefined;
  return (
    <div class="folds no-print">
      <details open={mine !== undefined}>
        <summary>The freight turned out otherwise</summary>
        <form method="post" action={`/purchase-orders/${order.code}/freight`}>
          <FormKey />
          <TextField
            form="freight"
            name="freight"
            label="Freight"
            value={mine?.sent['freight'] ?? moneyField(order.freightE4)}
            fault={mine?.fault}
            inputmode="decimal"
            required
          />
          <p>
            <button type="submit">Share it anew</button>
          </p>
        </form>
      </details>
    </div>
  );
}
