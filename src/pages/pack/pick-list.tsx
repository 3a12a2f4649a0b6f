import { longDay, shortDay } from '../../ui/dates.js';
import { lineKey, type ReadyDays } from '../../planning/coverage.service.js';
import type { Pick, PickLine, PickList, PickOrder } from '../../shipping/pick.schema.js';
import { TextField } from '../../ui/form.js';
import { pickAddress } from '../../ui/addresses.js';
import { Page } from '../../ui/layout.js';
import { UrgentMark } from '../orders/elsewhere/urgent-mark.js';

/** So many orders are shown at once; the rest comes up as these go. */
const ORDERS_SHOWN = 40;

interface PickListProps {
  list: PickList;
  /** Of the orders that wait for the last of them. */
  days: ReadyDays;
  query: { until?: string; place?: string };
  /** The shipment that was just written down. */
  sent?: number;
}

/** What has to go, the first first, and what to fetch for it from where. */
export function PickListView({ list, days, query, sent }: PickListProps): JSX.Element {
  const shown = shownOf(list);
  return (
    <Page title="Pack" at="/pick">
      <h1>Pack</h1>
      {Boolean(sent) && (
        <p class="note" role="status">
          It is written down as sent. <a href={`/api/shipments/${sent}/slip.pdf`}>Print its packing slip</a>
        </p>
      )}
      <form method="get" action="/pick" class="filters">
        <TextField name="until" form="pick" type="date" label="To go by" value={query.until} />
        <TextField name="place" form="pick" label="Only from this place" value={query.place} maxlength={120} />
        <button type="submit">Show</button>
      </form>
      <nav class="row" aria-label="Beside parcels">
        <a href="/fairs">Fairs</a>
        <a href="/empties">Empties that came back</a>
        <a href="/labels">Labels</a>
      </nav>
      {shown.length === 0 ? <p>Nothing has to go.</p> : <Fetch orders={shown} />}
      <div class="cards">
        {shown.map((order) => (
          <OrderCard order={order} days={days} today={list.on} />
        ))}
      </div>
      {list.orders.length > shown.length && (
        <p safe>{`${list.orders.length - shown.length} more orders have to go later.`}</p>
      )}
    </Page>
  );
}

export const shownOf = ({ orders }: PickList): PickOrder[] => orders.slice(0, ORDERS_SHOWN);

/** When it has to go, in words. */
export function ShipBy({ shipBy, today }: { shipBy: string; today: string }): JSX.Element {
  if (shipBy > today) return <span safe>{`to go by ${shortDay(shipBy)}`}</span>;
  const isToday = shipBy === today;
  return (
    <span class={`mark ${isToday ? 'care' : 'bad'}`} safe>
      {isToday ? 'to go today' : `late since ${shortDay(shipBy)}`}
    </span>
  );
}

interface OrderProps {
  order: PickOrder;
  days: ReadyDays;
  today: string;
}

function OrderCard({ order, days, today }: OrderProps): JSX.Element {
  const { number, channel, customer, urgent, shipBy, lines, notices } = order;
  return (
    <section class="card">
      <h2 safe>{`${number} ${customer ?? ''}`.trim()}</h2>
      <p>
        <span safe>{channel}</span>, <ShipBy shipBy={shipBy} today={today} /> {urgent && <UrgentMark />}{' '}
        {notices.length > 0 && <span class="mark care">flammable</span>}
      </p>
      <ul class="lines">
        {lines.map((line) => (
          <li safe>{lineText(line, order, today)}</li>
        ))}
      </ul>
      <p>
        <PackIt order={order} days={days} today={today} />
      </p>
    </section>
  );
}

function PackIt({ order, days, today }: OrderProps): JSX.Element {
  const { number, lines, isWhole, sentAs } = order;
  if (lines.every(({ picks, packs }) => picks.length === 0 && packs === null))
    return <span class="mark bad">nothing of it is there</span>;
  if (isKeptBack(order))
    return (
      <>
        <span class="mark care">goes all at once</span> <span safe>{`waits for ${restText(order, days, today)}`}</span>
      </>
    );
  return (
    <a class={`button ${isWhole || sentAs === 'parts' ? 'main' : ''}`} href={pickAddress(order)} safe>
      {isWhole ? `Pack ${number}` : sentAs === 'parts' ? `Pack what is there of ${number}` : `Pack a part of ${number}`}
    </a>
  );
}

/** It is sent complete, and not all of it can go. */
export const isKeptBack = ({ sentAs, isWhole }: PickOrder): boolean => sentAs === 'complete' && !isWhole;

/** What keeps an order from going all at once: "3 Cedar soap (ready Wed 2 Dec), Linen spray (not before Fri 4 Dec)". */
export function restText(order: PickOrder, days: ReadyDays, today: string): string {
  return order.lines.flatMap((line) => waitingText(line, days.get(lineKey(order, line)) ?? null, today)).join(', ');
}

/** What a line waits for and until when; nothing where it can go today. `ready`: null where not all of it is covered. */
function waitingText({ name, short, notBefore }: PickLine, ready: string | null, today: string): string[] {
  const isLater = notBefore !== null && notBefore > today;
  if (short === 0) return isLater ? [`${name} (not before ${shortDay(notBefore)})`] : [];
  if (ready === null) return [`${short} ${name} (not covered yet)`];
  if (isLater && notBefore >= ready) return [`${short} ${name} (not before ${shortDay(notBefore)})`];
  // what a plan counts on and nobody can take today is on hold, or promised to another
  return [ready > today ? `${short} ${name} (ready ${shortDay(ready)})` : `${short} ${name}`];
}

/** "3 Cedar spray: 2 of lot A (shelf 1); 1 short" */
function lineText(
  { name, open, picks, packs, short, notBefore }: PickLine,
  { sentAs }: PickOrder,
  today: string,
): string {
  const parts = [
    ...picks.map(pickText),
    packs ? `${packs.quantity} to put together` : '',
    lackText(short, sentAs),
    notBefore !== null && notBefore > today ? `not before ${shortDay(notBefore)}` : '',
  ].filter((part) => part !== '');
  return `${open} ${name}: ${parts.join('; ')}`;
}

/** What is not there of a line. */
export const lackText = (short: number, sentAs: PickOrder['sentAs']): string =>
  short > 0 ? `${short} ${sentAs === 'parts' ? 'to follow' : 'short'}` : '';

const pickText = ({ quantity, lot, place }: Pick): string =>
  `${quantity} of lot ${lot}${place === '' ? '' : ` (${place})`}`;

/** One way through the workshop: everything for these orders, place by place. */
function Fetch({ orders }: { orders: readonly PickOrder[] }): JSX.Element {
  const all = new Map<string, Pick>();
  for (const { lines } of orders.filter((order) => !isKeptBack(order)))
    for (const { picks, packs } of lines)
      for (const pick of [...picks, ...(packs?.parts ?? [])]) {
        const before = all.get(pick.lot);
        all.set(pick.lot, { ...pick, quantity: pick.quantity + (before?.quantity ?? 0) });
      }
  const byPlace = [...all.values()].sort(
    (a, b) => a.place.localeCompare(b.place) || a.item.localeCompare(b.item) || a.lot.localeCompare(b.lot),
  );
  if (byPlace.length === 0) return <></>;
  return (
    <details>
      <summary safe>{`What to fetch for these ${orders.length}, by place`}</summary>
      <table class="stack">
        <thead>
          <tr>
            <th>Place</th>
            <th>What</th>
            <th>Lot</th>
            <th>Good until</th>
            <th class="num">Pieces</th>
          </tr>
        </thead>
        <tbody>
          {byPlace.map(({ place, item, lot, expiresOn, quantity }) => (
            <tr>
              <th scope="row" safe>
                {place === '' ? 'no place said' : place}
              </th>
              <td data-label="What" safe>
                {item}
              </td>
              <td data-label="Lot">
                <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
                  {lot}
                </a>
              </td>
              <td data-label="Good until" safe>
                {expiresOn === null ? '' : longDay(expiresOn)}
              </td>
              <td class="num" data-label="Pieces">
                {quantity}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}
