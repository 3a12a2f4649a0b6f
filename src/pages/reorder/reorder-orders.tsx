import { addDays } from '../../kernel/measure/day.js';
import { shortDay } from '../../ui/dates.js';
import type { ReorderList, SupplierOrderView } from '../../reorder/reorder.schema.js';
import { FormKey } from '../../ui/form-key.js';
import { moneyText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

/** What to order together from whom: by day, with what the parcel costs, and the way to make an order of it. */
export function ReorderOrders({ list, currency }: { list: ReorderList; currency: string }): JSX.Element {
  if (list.orders.length === 0) return <></>;
  const names = new Map(list.rows.map((row) => [row.item, row.name]));
  const suppliers = new Map(list.orders.map((order) => [order.supplier, order.name]));
  return (
    <section>
      <h2>Order together</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>By</th>
            <th>From</th>
            <th>What</th>
            <th class="num">Goods</th>
            <th class="num">Freight</th>
            <th class="no-print">Now</th>
          </tr>
        </thead>
        <tbody>
          {list.orders.map((order, index) => (
            <tr>
              <td data-label="By" safe>
                {order.orderBy < list.today ? `${shortDay(order.orderBy)}, which is past` : shortDay(order.orderBy)}
              </td>
              <th scope="row" safe>
                {order.name}
              </th>
              <td data-label="What">
                <span safe>{order.lines.map(({ item }) => names.get(item) ?? item).join(', ')}</span>
                <Comment order={order} currency={currency} />
              </td>
              <td class="num" data-label="Goods" safe>
                {moneyText(order.goodsE4, currency)}
              </td>
              <td class="num" data-label="Freight" safe>
                {moneyText(order.freightE4, currency)}
              </td>
              <td class="no-print" data-label="Now">
                <Make order={order} later={order.orderBy >= addDays(list.today, list.reviewDays)} index={index} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <nav class="row no-print" aria-label="A list for each supplier">
        {[...suppliers].map(([code, name]) => (
          <a class="button" href={`/reorder?supplier=${encodeURIComponent(code)}`} safe>
            {`List for ${name}`}
          </a>
        ))}
      </nav>
    </section>
  );
}

function Comment({ order, currency }: { order: SupplierOrderView; currency: string }): JSX.Element {
  const early = order.lines.filter((line) => line.early).length;
  const told = [
    early > 0 ? `${count(early, 'of them', 'of them')} could wait, but a parcel of its own would cost more.` : '',
    order.belowMinimumE4 > 0 ? `${moneyText(order.belowMinimumE4, currency)} short of the least they send.` : '',
  ].filter((text) => text !== '');
  return (
    <>
      {told.map((text) => (
        <div class="hint" safe>
          {text}
        </div>
      ))}
    </>
  );
}

function Make({ order, later, index }: { order: SupplierOrderView; later: boolean; index: number }): JSX.Element {
  if (order.draft !== null && order.lines.every(({ drafted }) => drafted))
    return (
      <a href={`/purchase-orders/${order.draft}`} safe>
        {`In draft ${order.draft}, not sent`}
      </a>
    );
  const words = order.draft === null ? 'Make a purchase order' : `Add to ${order.draft}`;
  return (
    <form method="post" action="/reorder/drafts">
      <FormKey />
      <input type="hidden" name="supplier" value={order.supplier} />
      <input type="hidden" name="items" value={order.lines.map(({ item }) => item).join(' ')} />
      <button type="submit" class={later ? '' : 'main'} aria-label={`${words}: ${order.name}, ${index + 1}`} safe>
        {words}
      </button>
    </form>
  );
}
