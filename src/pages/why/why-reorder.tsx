import type { ItemView } from '../../catalog/items.schema.js';
import type { PackView } from '../../purchasing/purchasing.schema.js';
import type { ReorderRow } from '../../reorder/reorder.schema.js';
import { addDays } from '../../kernel/measure/day.js';
import { longDay } from '../../ui/dates.js';
import { Page } from '../../ui/layout.js';
import { ProjectionLine } from '../reorder/elsewhere/projection-line.js';
import { forecastWords, ifNotOrdered, limitWords } from '../reorder/elsewhere/reorder-words.js';
import { amountText, moneyText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

interface WhyReorderProps {
  item: ItemView;
  today: string;
  /** Null where nothing has to be ordered. */
  row: ReorderRow | null;
  /** All that are sold of it. */
  packs: readonly PackView[];
  currency: string;
}

/** Why so much is to be ordered by that day: what is there, what will be used, how long it takes, which packs. */
export function WhyReorderView(props: WhyReorderProps): JSX.Element {
  const { item, row, today, packs, currency } = props;
  return (
    <Page title={`Why order ${item.name}`} at="/reorder">
      <h1 safe>{headingOf(item, row)}</h1>
      {row ? (
        <>
          <ProjectionLine row={row} today={today} />
          <h2>The arithmetic</h2>
          <ul>
            {arithmeticOf(props, row).map((line) => (
              <li safe>{line}</li>
            ))}
          </ul>
        </>
      ) : (
        <p class="note">
          What is free and on the way lasts until more of it could be here, and some weeks longer. So nothing of it is
          on the list.
        </p>
      )}
      <PacksKnown packs={packs} row={row} item={item} currency={currency} />
      <p class="row no-print">
        <a class="button" href="/reorder">
          To the reorder list
        </a>
        {item.kind === 'material' && (
          <a class="button" href={`/reorder/items/${item.code}`}>
            How fast it goes
          </a>
        )}
        <a class="button" href={`/why/need/${item.code}`}>
          What takes it
        </a>
        <a class="button" href={`/shelf/items/${item.code}`}>
          To its lots
        </a>
      </p>
    </Page>
  );
}

function headingOf(item: ItemView, row: ReorderRow | null): string {
  if (!row) return `Nothing of ${item.name} has to be ordered now`;
  if (row.wanted === 0) return `Why is ${item.name} on the list, though nothing more is wanted?`;
  return `Why order ${amountText(row.wanted, item.measure)} of ${item.name}?`;
}

function arithmeticOf({ item, today, packs, currency }: WhyReorderProps, row: ReorderRow): string[] {
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  const until = addDays(today, row.freeByDay.length - 1);
  const arriving = (row.freeByDay.at(-1) ?? row.free) + row.expectedUse + row.lost - row.free;
  return [
    forecastWords(row),
    `Looked at until ${longDay(until)}. Free today: ${amount(row.free)}. Comes by then: ${amount(arriving)}${row.onTheWay > arriving ? ` (of ${amount(row.onTheWay)} on the way)` : ''}. Will be used by then: ${amount(row.expectedUse)}, the larger of what is planned and what ${row.forecast?.said ? 'is expected' : 'past use leads one to expect'}.${row.lost > 0 ? ` ${amount(row.lost)} expire unused.` : ''}`,
    row.safety > 0 && row.safety >= row.keep
      ? `Should be left over: ${amount(row.keep)}, since use and lead times stray.`
      : `Should be left over: ${amount(row.keep)}.`,
    ...(row.runsOutOn === null
      ? []
      : [`It runs out, or falls under what should be left, on ${longDay(row.runsOutOn)}.`]),
    ...orderByLines(row, packs),
    ...(row.wanted === 0
      ? ['What is there and coming is enough: nothing more is wanted, but it comes late.']
      : [`${amount(row.wanted)} wanted, so that it lasts until an order after that one is here.`]),
    ...(row.packs.length === 0
      ? []
      : [
          `Cheapest packs that cover it: ${row.packs.map(({ key, count: packCount }) => `${packCount} × ${key}`).join(', ')}: ${amount(row.packsTotal)} for ${moneyText(row.costE4, currency)}${row.gapE4 > 0 ? `, at most ${moneyText(row.gapE4, currency)} above the cheapest` : ''}.`,
        ]),
    ...[limitWords(row)].filter((words) => words !== null),
    ...ifNotOrdered(row, today),
  ];
}

function orderByLines(row: ReorderRow, packs: readonly PackView[]): string[] {
  if (row.wanted === 0) return [];
  if (row.orderBy === null || row.runsOutOn === null || row.leadDays === null)
    return ['Nobody is known to sell it, so there is no last day to order.'];
  const chosen = packs.filter(({ supplier, code }) => row.packs.some(({ key }) => key === `${supplier}/${code}`));
  const isSlower = chosen.every(({ leadDays }) => leadDays < row.leadDays!);
  const stated = isSlower ? ', as stated of their slowest pack' : ' as stated';
  const learned = row.deliveries > 0 ? `, as ${count(row.deliveries, 'delivery', 'deliveries')} took` : stated;
  const parts = [
    `${count(row.receivingDays, 'day')} for receiving`,
    ...(row.trialDays > 0 ? [`${count(row.trialDays, 'day')} of trial`] : []),
    `${count(row.leadDays, 'day')} until it comes${learned}`,
  ];
  return [
    `${longDay(row.runsOutOn)}, less ${parts.join(', less ')}: order by ${longDay(row.orderBy)}${row.overdue ? ', which is past' : ''}.`,
  ];
}

function PacksKnown(props: Pick<WhyReorderProps, 'packs' | 'row' | 'item' | 'currency'>): JSX.Element {
  const { packs, row, item, currency } = props;
  const sold = packs.filter(({ withdrawn }) => !withdrawn);
  if (sold.length === 0) return <p class="note care">No pack of it is written down.</p>;
  const chosen = new Map((row?.packs ?? []).map(({ key, count: n }) => [key, n]));
  return (
    <>
      <h2>Who sells it</h2>
      <table class="stack dense">
        <thead>
          <tr>
            <th>Pack</th>
            <th class="num">Holds</th>
            <th class="num">Price</th>
            <th class="num">At least</th>
            <th class="num">Takes</th>
            <th class="num">Chosen</th>
          </tr>
        </thead>
        <tbody>
          {sold.map((pack) => (
            <tr>
              <th scope="row" safe>{`${pack.code} of ${pack.supplier}`}</th>
              <td class="num" data-label="Holds" safe>
                {amountText(pack.size, item.measure)}
              </td>
              <td class="num" data-label="Price" safe>
                {moneyText(pack.priceE4, currency)}
              </td>
              <td class="num" data-label="At least" safe>
                {count(pack.leastPacks, 'pack')}
              </td>
              <td class="num" data-label="Takes" safe>
                {count(pack.leadDays, 'day')}
              </td>
              <td class="num" data-label="Chosen" safe>
                {String(chosen.get(`${pack.supplier}/${pack.code}`) ?? '–')}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}
