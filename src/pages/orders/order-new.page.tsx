import { Get, HttpCode, Post } from '@nestjs/common';
import { ItemsService } from '../../catalog/items.service.js';
import type { ItemView } from '../../catalog/items.schema.js';
import { ChannelsService } from '../../orders/channels.service.js';
import { type ChannelView, orderCreate } from '../../orders/orders.schema.js';
import { OrdersService } from '../../orders/orders.service.js';
import { CODES_MAX, CodesList } from '../../ui/codes-list.js';
import { PrecedenceFields, weightOf } from './precedence-form.js';
import { AS_ITS_CHANNEL, SendsField, sendsOf } from './sends-form.js';
import { FirstChannel } from './channels.page.js';
import {
  bodyOf,
  ChoiceField,
  type Fault,
  faultOf,
  FaultNote,
  goTo,
  type Sent,
  TextField,
  tiesOf,
  written,
} from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { orderAddress } from '../../ui/addresses.js';
import { FormKey } from '../../ui/form-key.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const ROWS_FIRST = 5;
const ROWS_MORE = 5;
const ROWS_MAX = 500;
const LINE_FIELDS = ['code', 'quantity', 'shipBy', 'notBefore'] as const;

/** Writing down an order by hand. */
@PageController('orders')
export class OrderNewPage {
  constructor(
    private readonly orders: OrdersService,
    private readonly channels: ChannelsService,
    private readonly items: ItemsService,
  ) {}

  @Get('new')
  blank() {
    return this.view({}, undefined);
  }

  @Post('new')
  @HttpCode(200)
  async create(@Filled() { who, sent, reply }: Filled) {
    if (sent['more'] !== undefined) return this.view(sent, undefined, ROWS_MORE);
    const rows = Array.from({ length: rowsOf(sent) }, (_, row) => row).filter((row) =>
      LINE_FIELDS.some((field) => written(sent, `lines/${row}/${field}`) !== undefined),
    );
    try {
      const order = await this.orders.create(who, bodyOf(orderCreate, orderOf(sent, rows)));
      return goTo(reply, orderAddress(order), { said: 'added' });
    } catch (error) {
      return this.view(sent, atItsRow(faultOf(error, reply), rows));
    }
  }

  private async view(sent: Sent, fault: Fault | undefined, more = 0) {
    const { channels } = await this.channels.list();
    if (channels.length === 0) return <FirstChannel then="/orders/new" />;
    const products = await this.items.list({ kind: 'product', limit: CODES_MAX });
    const sets = await this.items.list({ kind: 'set', limit: CODES_MAX });
    const sold = [...products.items, ...sets.items].filter((item) => item.policy !== 'discontinued');
    return (
      <NewOrder
        sent={sent}
        fault={fault}
        channels={channels}
        sold={sold}
        rows={Math.min(ROWS_MAX, rowsOf(sent) + more)}
      />
    );
  }
}

function rowsOf(sent: Sent): number {
  const rows = Number(sent['rows'] ?? ROWS_FIRST);
  return Number.isInteger(rows) && rows > 0 ? Math.min(rows, ROWS_MAX) : ROWS_FIRST;
}

/** The body of the order a form means: what is left blank is not said. */
function orderOf(sent: Sent, rows: readonly number[]): unknown {
  return {
    channel: written(sent, 'channel') ?? '',
    number: written(sent, 'number') ?? '',
    customer: written(sent, 'customer'),
    placedOn: written(sent, 'placedOn'),
    paid: sent['waits'] === undefined,
    weight: weightOf(sent),
    urgent: sent['urgent'] === undefined ? undefined : true,
    sends: sendsOf(sent),
    lines: rows.map((row) => ({
      code: written(sent, `lines/${row}/code`) ?? '',
      quantity: written(sent, `lines/${row}/quantity`) ?? '',
      shipBy: written(sent, `lines/${row}/shipBy`),
      notBefore: written(sent, `lines/${row}/notBefore`),
    })),
  };
}

/** Faults point at the lines that were sent on; in the form blank rows may stand between them. */
function atItsRow(fault: Fault, rows: readonly number[]): Fault {
  const fields = Object.entries(fault.fields).map(([place, detail]): [string, string] => [
    place.replace(/^lines\/(\d+)\//, (_, at: string) => `lines/${rows[Number(at)]}/`),
    detail,
  ]);
  if ('lines' in fault.fields)
    return { detail: 'An order needs at least one line.', fields: Object.fromEntries(fields) };
  return { ...fault, fields: Object.fromEntries(fields) };
}

interface NewOrderProps {
  sent: Sent;
  fault: Fault | undefined;
  channels: readonly ChannelView[];
  sold: readonly ItemView[];
  rows: number;
}

function NewOrder({ sent, fault, channels, sold, rows }: NewOrderProps): JSX.Element {
  const field = { form: 'order', fault };
  return (
    <Page title="New order" at="/orders">
      <h1>New order</h1>
      <FaultNote fault={fault} />
      <form method="post" action="/orders/new">
        <FormKey />
        <input type="hidden" name="rows" value={String(rows)} />
        <div class="fields">
          <ChoiceField
            {...field}
            name="channel"
            label="From"
            value={sent['channel']}
            choices={channels.map(({ code, name }) => [code, name] as const)}
          />
          <TextField {...field} name="number" label="Order number" value={sent['number']} maxlength={80} />
          <TextField {...field} name="customer" label="Customer" value={sent['customer']} maxlength={200} />
          <TextField
            {...field}
            name="placedOn"
            label="Placed on"
            hint="Today if left blank"
            type="date"
            value={sent['placedOn']}
          />
        </div>
        <label class="check">
          <input type="checkbox" name="waits" value="yes" checked={sent['waits'] !== undefined} />
          It waits for payment: do not plan it yet
        </label>
        <PrecedenceFields form="order" sent={sent} fault={fault} />
        <SendsField form="order" sent={sent} fault={fault} first={AS_ITS_CHANNEL} />
        <Lines sent={sent} fault={fault} rows={rows} />
        <CodesList id="sold" items={sold} kinds={['product', 'set']} />
        <div class="row">
          <button type="submit" class="main">
            Write it down
          </button>
          <button type="submit" name="more" value="yes" formnovalidate>
            More lines
          </button>
          <a class="button" href="/orders">
            Leave it
          </a>
        </div>
      </form>
    </Page>
  );
}

const LINE_LABELS = { code: 'Code', quantity: 'How many', shipBy: 'Ship by', notBefore: 'Not before' };

function Lines({ sent, fault, rows }: { sent: Sent; fault: Fault | undefined; rows: number }): JSX.Element {
  return (
    <>
      <h2>Lines</h2>
      <p class="hint" id="lines-hint">
        The code of a product, or what the shop calls it. A line without a ship-by gets the days its channel promises.
      </p>
      <table class="stack entry" aria-describedby="lines-hint">
        <thead>
          <tr>
            {LINE_FIELDS.map((name) => (
              <th scope="col" safe>
                {LINE_LABELS[name]}
              </th>
            ))}
          </tr>
        </thead>
        <tbody>
          {Array.from({ length: rows }, (_, row) => (
            <tr>
              {LINE_FIELDS.map((name) => (
                <td data-label={LINE_LABELS[name]}>
                  <LineField row={row} name={name} sent={sent} fault={fault} />
                </td>
              ))}
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

interface LineFieldProps {
  row: number;
  name: (typeof LINE_FIELDS)[number];
  sent: Sent;
  fault: Fault | undefined;
}

function LineField({ row, name, sent, fault }: LineFieldProps): JSX.Element {
  const place = `lines/${row}/${name}`;
  const id = `order-${place}`;
  const isDay = name === 'shipBy' || name === 'notBefore';
  const detail = fault?.fields[place];
  return (
    <>
      <input
        id={id}
        name={place}
        type={isDay ? 'date' : 'text'}
        value={sent[place] ?? ''}
        aria-label={`${LINE_LABELS[name]}, line ${row + 1}`}
        list={name === 'code' ? 'sold' : undefined}
        inputmode={name === 'quantity' ? 'numeric' : undefined}
        maxlength="120"
        autocomplete="off"
        {...tiesOf({ form: 'order', name: place, label: '', fault }, id)}
      />
      {detail !== undefined && (
        <div class="fault" id={`${id}-fault`} safe>
          {detail}
        </div>
      )}
    </>
  );
}
