import type { ChannelView, OrderView as Order } from '../../orders/orders.schema.js';
import type { CoveredLine } from '../../planning/covered-line.js';
import { longDay, shortDay } from '../../ui/dates.js';
import type { ShipmentView } from '../../shipping/shipping.schema.js';
import { Coverage, OrderState } from './coverage.js';
import { UrgentMark } from './elsewhere/urgent-mark.js';
import { countsAsText, PrecedenceForm } from './precedence-form.js';
import { SendsForm, sendsText } from './sends-form.js';
import { ChoiceField, type Fault, FaultNote, fieldsOf, type Sent as Form, TextField } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { FormKey } from '../../ui/form-key.js';
import { orderAddress, pickAddress, whyLateAddress } from '../../ui/addresses.js';

interface OrderProps {
  covered: { order: Order; coverage: CoveredLine[] };
  shipments: readonly ShipmentView[];
  channel: ChannelView;
  said: string | undefined;
  /** What of which form was refused, as it was sent. */
  refused?: { form: 'back' | 'precedence' | 'sends'; sent: Form; fault: Fault };
}

/** Something of it may still be planned. */
export const isUnderWay = ({ status }: Pick<Order, 'status'>): boolean =>
  status === 'waiting' || status === 'confirmed';

/** One order: its lines, what covers them, what was sent. */
export function OrderView({ covered, shipments, channel, said, refused }: OrderProps): JSX.Element {
  const { order, coverage } = covered;
  return (
    <Page title={`Order ${order.number}`} at="/orders">
      <h1 safe>{`Order ${order.number}`}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {said}
        </p>
      )}
      <Facts order={order} channel={channel} />
      <Acts order={order} />
      {isUnderWay(order) && (
        <PrecedenceForm order={order} refused={refused?.form === 'precedence' ? refused : undefined} />
      )}
      {isUnderWay(order) && (
        <SendsForm order={order} channel={channel} refused={refused?.form === 'sends' ? refused : undefined} />
      )}
      <h2>Lines</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>What</th>
            <th class="num">Ordered</th>
            <th class="num">Sent</th>
            <th class="num">Open</th>
            <th>Ship by</th>
            <th>Covered</th>
          </tr>
        </thead>
        <tbody>
          {coverage.map((line) => (
            <LineRow line={line} order={order} />
          ))}
        </tbody>
      </table>
      {shipments.length > 0 && <Sent shipments={shipments} />}
      {shipments.length > 0 && (
        <p class="no-print">
          <a
            class="button"
            href={`/complaints?${new URLSearchParams({ channel: order.channel, number: order.number }).toString()}#new`}
          >
            Write down a complaint about it
          </a>
        </p>
      )}
      {shipments.length > 0 && (
        <CameBack order={order} shipments={shipments} refused={refused?.form === 'back' ? refused : undefined} />
      )}
    </Page>
  );
}

function Facts({ order, channel }: { order: Order; channel: ChannelView }): JSX.Element {
  return (
    <dl class="facts">
      <dt>From</dt>
      <dd safe>{channel.name}</dd>
      <dt>Customer</dt>
      <dd>
        {order.customer === null ? (
          'not named'
        ) : (
          <a href={`/customers?${new URLSearchParams({ search: order.customer }).toString()}`} safe>
            {order.customer}
          </a>
        )}
      </dd>
      <dt>Placed</dt>
      <dd safe>{longDay(order.placedOn)}</dd>
      <dt>State</dt>
      <dd>
        <OrderState status={order.status} /> {order.urgent && isUnderWay(order) && <UrgentMark />}
      </dd>
      <dt>Counts as</dt>
      <dd safe>{countsAsText(order)}</dd>
      <dt>How it is sent</dt>
      <dd safe>{sendsText(order)}</dd>
    </dl>
  );
}

const keyOf = ({ channel, number }: Order, { code, occurrence }: CoveredLine): string =>
  `${channel}/${number}/${code}#${occurrence}`;

function LineRow({ line, order }: { line: CoveredLine; order: Order }): JSX.Element {
  return (
    <tr>
      <th scope="row">
        <a href={`/shelf/items/${line.item}`} safe>
          {line.name}
        </a>
        <div class="hint" safe>
          {line.code === line.item ? line.item : `${line.item}, ordered as ${line.code}`}
        </div>
      </th>
      <td class="num" data-label="Ordered">
        {line.quantity}
      </td>
      <td class="num" data-label="Sent">
        {line.shipped}
      </td>
      <td class="num" data-label="Open" safe>
        {line.cancelled > 0 ? `${line.open}, ${line.cancelled} cancelled` : String(line.open)}
      </td>
      <td data-label="Ship by" safe>
        {line.notBefore === null
          ? shortDay(line.shipBy)
          : `${shortDay(line.shipBy)}, not before ${shortDay(line.notBefore)}`}
      </td>
      <td data-label="Covered">
        <Coverage line={line} status={order.status} whyLate={whyLateAddress(keyOf(order, line))} />
      </td>
    </tr>
  );
}

/** What may be done with it now. */
function Acts({ order }: { order: Order }): JSX.Element {
  if (!isUnderWay(order)) return <></>;
  return (
    <div class="row no-print">
      {order.status === 'waiting' ? (
        <form method="post" action={`${orderAddress(order)}/confirm`}>
          <FormKey />
          <button type="submit" class="main">
            It is paid: plan it
          </button>
        </form>
      ) : (
        <a class="button" href={pickAddress(order)}>
          Pack it
        </a>
      )}
      <details>
        <summary>Cancel the order</summary>
        <form class="note care" method="post" action={`${orderAddress(order)}/cancel`}>
          <FormKey />
          <p>What is open of it is no longer made or sent, and what is set aside for it is free again. This stays.</p>
          <button type="submit">Cancel what is open</button>
        </form>
      </details>
    </div>
  );
}

function Sent({ shipments }: { shipments: readonly ShipmentView[] }): JSX.Element {
  return (
    <>
      <h2>Sent</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Day</th>
            <th>What</th>
            <th class="num">How many</th>
            <th>From lot</th>
          </tr>
        </thead>
        <tbody>
          {shipments.flatMap((shipment) =>
            shipment.lines.map((line) => (
              <tr>
                <th scope="row">
                  <span safe>{shortDay(shipment.shippedOn)}</span>{' '}
                  <a href={`/api/shipments/${shipment.id}/slip.pdf`}>Packing slip</a>
                </th>
                <td data-label="What" safe>
                  {line.item}
                </td>
                <td class="num" data-label="How many">
                  {line.quantity}
                </td>
                <td data-label="From lot">
                  <a href={`/shelf/lots/${encodeURIComponent(line.lot)}`} safe>
                    {line.lot}
                  </a>
                </td>
              </tr>
            )),
          )}
        </tbody>
      </table>
    </>
  );
}

/** Takes something back, held apart under the lot it left. */
function CameBack({
  order,
  shipments,
  refused,
}: { order: Order } & Pick<OrderProps, 'shipments' | 'refused'>): JSX.Element {
  const field = fieldsOf('back', refused ?? {});
  const sent = shipments.flatMap(({ lines }) => lines).filter(({ quantity }) => quantity > 0);
  const choices = sent.map(
    ({ code, occurrence, item, lot }) => [JSON.stringify([code, occurrence, lot]), `${item}, lot ${lot}`] as const,
  );
  return (
    <details open={refused !== undefined}>
      <summary>Something came back</summary>
      <form method="post" action={`${orderAddress(order)}/return`}>
        <FormKey />
        <FaultNote fault={refused?.fault} />
        <p class="hint">It stays on hold until somebody decides. What goes on skin is never sold again.</p>
        <ChoiceField {...field('what')} label="What" choices={[...new Map(choices)]} />
        <TextField {...field('quantity')} label="How many" inputmode="numeric" required />
        <TextField {...field('reason')} label="Why" required />
        <TextField {...field('place')} label="Where it stands now" maxlength={120} />
        <p>
          <button type="submit">Take it back</button>
        </p>
      </form>
    </details>
  );
}
