import { SENT_BY } from '../../purchasing/purchase-orders.schema.js';
import { ChoiceField, faultAt, type Fault, type Sent, TextField, tiesOf } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import type { PurchaseViewProps } from './purchase-props.js';
import { moneyField, OrderFiles, SENT_BY_WORDS } from './purchase-words.js';
import { amountText, moneyText } from '../../ui/amounts.js';

/** A draft to look through and change, and then to send. */
export function PurchaseDraft(props: PurchaseViewProps): JSX.Element {
  const { order, refused } = props;
  const mine = refused?.form === 'change' ? refused : undefined;
  const field = { form: 'change', fault: mine?.fault };
  return (
    <>
      <form method="post" action={`/purchase-orders/${order.code}/change`}>
        <FormKey />
        <DraftLines {...props} />
        <p class="hint">A line without packs is taken off.</p>
        <div class="fields">
          <TextField
            {...field}
            name="freight"
            label="Freight"
            value={mine?.sent['freight'] ?? moneyField(order.freightE4)}
            inputmode="decimal"
          />
          <TextField
            {...field}
            name="note"
            label="Note to the supplier"
            value={mine?.sent['note'] ?? order.note}
            maxlength={2000}
          />
        </div>
        <p>
          <button type="submit">Keep the changes</button>
        </p>
      </form>
      <Send {...props} />
    </>
  );
}

function DraftLines(props: PurchaseViewProps): JSX.Element {
  const { order, currency, refused } = props;
  const mine = refused?.form === 'change' ? refused : undefined;
  return (
    <table class="stack entry purchase">
      <thead>
        <tr>
          <th>Pack</th>
          <th>What</th>
          <th class="num">In each</th>
          <th>Packs</th>
          <th>Price each</th>
          <th class="num">Price</th>
        </tr>
      </thead>
      <tbody>
        {order.lines.map((line, row) => (
          <tr>
            <th scope="row" safe>
              {line.pack}
            </th>
            <td data-label="What">
              <a href={`/shelf/items/${line.item}`} safe>
                {line.name}
              </a>
            </td>
            <td class="num" data-label="In each" safe>
              {amountText(line.size, line.measure)}
            </td>
            <td data-label="Packs">
              <Cell {...cell(mine, row, 'packs', String(line.packs), `Packs of ${line.pack}`)} mode="numeric" />
            </td>
            <td data-label="Price each">
              <Cell {...cell(mine, row, 'price', moneyField(line.priceE4), `Price of ${line.pack}`)} mode="decimal" />
            </td>
            <td class="num" data-label="Price" safe>
              {moneyText(line.packs * line.priceE4, currency)}
            </td>
          </tr>
        ))}
        <AddRow {...props} />
      </tbody>
      <tfoot>
        <tr>
          <th scope="row">Goods together</th>
          <td class="num" colspan="5">
            <strong safe>{moneyText(order.goodsE4, currency)}</strong>
          </td>
        </tr>
      </tfoot>
    </table>
  );
}

function AddRow({ order, packs, refused }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'change' ? refused : undefined;
  const row = order.lines.length;
  const known = new Set(order.lines.map(({ pack }) => pack));
  const more = packs.filter(({ code, withdrawn }) => !withdrawn && !known.has(code));
  if (more.length === 0) return <></>;
  const chosen = mine?.sent[`lines/${row}/pack`];
  return (
    <tr>
      <td data-label="One more" colspan="3">
        <select name={`lines/${row}/pack`} aria-label="One more pack">
          {more.map(({ code, item }) => (
            <option value={code} selected={code === chosen} safe>
              {`${code} (${item})`}
            </option>
          ))}
        </select>
      </td>
      <td data-label="Packs">
        <Cell {...cell(mine, row, 'packs', '', 'Packs of the added one')} mode="numeric" />
      </td>
      <td data-label="Price each" colspan="2">
        <Cell {...cell(mine, row, 'price', '', 'Price of the added one')} mode="decimal" />
      </td>
    </tr>
  );
}

interface CellProps {
  form: string;
  name: string;
  label: string;
  value: string;
  fault: Fault | undefined;
}

/** A field of a line in a table: what stands in it, as sent or as it is, under a name of its own for those who hear it. */
export function cell(
  mine: { sent: Sent; fault: Fault } | undefined,
  row: number,
  name: string,
  value: string,
  label: string,
  form = 'cell',
): CellProps {
  const full = `lines/${row}/${name}`;
  return { form, name: full, label, value: mine?.sent[full] ?? value, fault: mine?.fault };
}

export function Cell(props: CellProps & { mode?: 'numeric' | 'decimal'; type?: 'text' | 'date' }): JSX.Element {
  const { form, name, label, value, fault, mode, type } = props;
  const id = `${form}-${name}`;
  const told = faultAt({ name, fault });
  return (
    <>
      <input
        id={id}
        name={name}
        type={type ?? 'text'}
        value={value}
        inputmode={mode}
        maxlength="120"
        autocomplete="off"
        aria-label={label}
        {...tiesOf({ name, form, label, fault }, id)}
      />
      {!!told && (
        <div class="fault" id={`${id}-fault`} safe>
          {told}
        </div>
      )}
    </>
  );
}

function Send(props: PurchaseViewProps): JSX.Element {
  return (
    <section class="no-print">
      <h2>{props.canEmail ? 'Send it' : 'Send it yourself'}</h2>
      <OrderFiles code={props.order.code} />
      {props.canEmail && <SendByEmail {...props} />}
      <SaySent {...props} />
    </section>
  );
}

function SendByEmail({ order, refused }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'email' ? refused : undefined;
  return (
    <form method="post" action={`/purchase-orders/${order.code}/email`}>
      <FormKey />
      <div class="fields">
        <TextField
          form="email"
          name="to"
          label="By email to"
          value={mine?.sent['to'] ?? order.supplierEmail}
          fault={mine?.fault}
          maxlength={254}
          hint={
            order.supplierEmail === ''
              ? 'With the PDF and the table; the address is kept'
              : 'With the PDF and the table'
          }
        />
      </div>
      <p>
        <button type="submit" class="main">
          Send it by email
        </button>
      </p>
    </form>
  );
}

/** That it was sent from elsewhere. */
function SaySent({ order, refused, today, canEmail }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'send' ? refused : undefined;
  const field = { form: 'send', fault: mine?.fault };
  return (
    <form method="post" action={`/purchase-orders/${order.code}/send`}>
      <FormKey />
      <p class="hint">
        {canEmail ? 'Or send it yourself' : 'Nothing leaves from here: send it yourself'}, by letter, by an email of
        your own, on their website or by telephone. Then write down how.
      </p>
      <div class="fields">
        <ChoiceField
          {...field}
          name="sentBy"
          label="How you sent it"
          value={mine?.sent['sentBy']}
          choices={[['', 'choose'], ...SENT_BY.map((by) => [by, SENT_BY_WORDS[by]] as const)]}
        />
        <TextField {...field} name="sentOn" type="date" label="On" value={mine?.sent['sentOn'] ?? today} />
      </div>
      <p>
        <button type="submit" class={canEmail ? '' : 'main'}>
          It is sent
        </button>
      </p>
    </form>
  );
}
