import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { FAMILIES } from '../../catalog/item.entity.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { longDay } from '../../ui/dates.js';
import { itemCode, lineOfText } from '../../platform/schema.js';
import { SuppliersService } from '../../purchasing/suppliers.service.js';
import { LotsService } from '../../stock/lots.service.js';
import {
  type ShelfPage as ShelfRows,
  type ShelfRow,
  ShelfService,
  SOON_DAYS,
  USE_DAYS,
} from '../../planning/shelf.service.js';
import { lotCreate } from '../../stock/stock.schema.js';
import { addDays } from '../../kernel/measure/day.js';
import { blankIsNone, bodyOf, faultOf, goTo, written, writtenAmount } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { FAMILY_WORDS } from './elsewhere/shelf-words.js';
import { ItemView } from './shelf-item.js';
import { amountText, moneyE4Of } from '../../ui/amounts.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const shelfQuery = z.strictObject({
  family: blankIsNone(z.enum(FAMILIES)),
  search: blankIsNone(lineOfText(200)),
  only: blankIsNone(z.enum(['low', 'expiring'])),
  after: blankIsNone(itemCode),
});
type Filter = z.infer<typeof shelfQuery>;
const itemPath = z.strictObject({ code: itemCode });

/** The shelf: what lies there, what of it is free, what comes, and what is soon over. */
@PageController('shelf')
export class ShelfPage {
  constructor(
    private readonly shelf: ShelfService,
    private readonly lots: LotsService,
    private readonly suppliers: SuppliersService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  async list(@Query({ schema: shelfQuery }) filter: Filter) {
    return <ShelfView filter={filter} shelf={await this.shelf.list(filter)} />;
  }

  @Get('items/:code')
  item(@Param({ schema: itemPath }) { code }: z.infer<typeof itemPath>) {
    return this.itemView(code, {});
  }

  /** Takes in what came outside of a delivery that was expected, or was there all along. */
  @Post('items/:code/receive')
  async receive(@Filled(itemPath) { who, path: { code }, sent, reply }: Filled<typeof itemPath>) {
    const { item } = await this.shelf.item(code);
    try {
      const body = bodyOf(lotCreate, {
        item: code,
        quantity: writtenAmount(written(sent, 'quantity'), item.measure === 'weighed'),
        code: written(sent, 'code')?.toUpperCase(),
        receivedOn: written(sent, 'receivedOn'),
        expiresOn: sent['neverExpires'] === 'yes' ? null : written(sent, 'expiresOn'),
        supplier: written(sent, 'supplier')?.toUpperCase(),
        supplierLot: written(sent, 'supplierLot'),
        certificate: written(sent, 'certificate'),
        costE4: moneyE4Of(written(sent, 'costE4'), '/costE4'),
        place: written(sent, 'place'),
        reason: written(sent, 'reason'),
      });
      const lot = await this.lots.receive(who, body);
      return goTo(reply, `/shelf/lots/${encodeURIComponent(lot.code)}`, { said: 'received' });
    } catch (error) {
      return this.itemView(code, { sent, fault: faultOf(error, reply) });
    }
  }

  private async itemView(code: string, form: Pick<Parameters<typeof ItemView>[0], 'sent' | 'fault'>) {
    const shelf = await this.shelf.item(code);
    const { suppliers } = await this.suppliers.list();
    const { currency } = await this.workshop.get();
    return <ItemView shelf={shelf} suppliers={suppliers} currency={currency} {...form} />;
  }
}

function ShelfView({ filter, shelf }: { filter: Filter; shelf: ShelfRows }): JSX.Element {
  return (
    <Page title="Shelf" at="/shelf">
      <h1>The shelf</h1>
      <FilterForm filter={filter} />
      {shelf.rows.length === 0 ? (
        <NothingFound filter={filter} />
      ) : (
        <table class="stack dense">
          <caption>
            Free is what may be used today and is not set aside. On the way is what deliveries and batches will bring.
          </caption>
          <thead>
            <tr>
              <th>Item</th>
              <th class="num">On hand</th>
              <th class="num">Set aside</th>
              <th class="num">Free</th>
              <th class="num">On the way</th>
              <th>First last day</th>
              <th>State</th>
            </tr>
          </thead>
          <tbody>
            {shelf.rows.map((row) => (
              <ItemRow row={row} today={shelf.today} />
            ))}
          </tbody>
        </table>
      )}
      <nav class="row no-print" aria-label="Pages of the shelf">
        {!!filter.after && (
          <a class="button" href={addressOf({ ...filter, after: undefined })}>
            From the start
          </a>
        )}
        {!!shelf.next && (
          <a class="button" href={addressOf({ ...filter, after: shelf.next })}>
            Next items
          </a>
        )}
        <a class="button" href="/shelf/count">
          Count a shelf
        </a>
      </nav>
    </Page>
  );
}

function addressOf(filter: Filter): string {
  const asked = Object.entries(filter).filter(([, value]) => value !== undefined);
  return asked.length > 0 ? `/shelf?${new URLSearchParams(asked).toString()}` : '/shelf';
}

function FilterForm({ filter }: { filter: Filter }): JSX.Element {
  return (
    <form class="row no-print" method="get" action="/shelf">
      <div>
        <label for="filter-family">Family</label>
        <select id="filter-family" name="family">
          <option value="">All</option>
          {FAMILIES.map((family) => (
            <option value={family} selected={family === filter.family} safe>
              {FAMILY_WORDS[family]}
            </option>
          ))}
        </select>
      </div>
      <div>
        <label for="filter-search">Name or code</label>
        <input id="filter-search" name="search" value={filter.search ?? ''} maxlength="200" autocomplete="off" />
      </div>
      <div>
        <label for="filter-only">Only what</label>
        <select id="filter-only" name="only">
          <option value="">is kept here</option>
          <option value="low" selected={filter.only === 'low'}>
            runs low
          </option>
          <option value="expiring" selected={filter.only === 'expiring'}>
            is over within {SOON_DAYS} days
          </option>
        </select>
      </div>
      <button type="submit">Show</button>
    </form>
  );
}

function NothingFound({ filter }: { filter: Filter }): JSX.Element {
  const isFiltered = Object.values(filter).some((value) => value !== undefined);
  return (
    <div class="note none">
      <p>
        <strong>{isFiltered ? 'Nothing on the shelf is like that.' : 'The shelf is empty.'}</strong>
      </p>
      <p>
        {isFiltered ? (
          <a href="/shelf">Show everything.</a>
        ) : (
          <a href="/start">Begin with the first materials: write them down, then what of each is there.</a>
        )}
      </p>
    </div>
  );
}

function ItemRow({ row, today }: { row: ShelfRow; today: string }): JSX.Element {
  const amount = (quantity: number): string => amountText(quantity, row.measure);
  return (
    <tr>
      <th scope="row">
        <a href={`/shelf/items/${row.code}`} safe>
          {row.name}
        </a>
        <div class="hint" safe>
          {row.code}
        </div>
      </th>
      <td class="num" data-label="On hand" safe>
        {amount(row.onHand)}
      </td>
      <td class="num" data-label="Set aside" safe>
        {amount(row.reserved)}
      </td>
      <td class="num" data-label="Free">
        <strong safe>{amount(row.free)}</strong>
        {row.unusable > 0 && (
          <div class="hint" safe>
            {`${amount(row.unusable)} not usable`}
          </div>
        )}
      </td>
      <td class="num" data-label="On the way" safe>
        {row.coming === 0 ? '–' : amount(row.coming)}
      </td>
      <td data-label="First last day" safe>
        {row.nextDate === null ? 'none' : longDay(row.nextDate)}
      </td>
      <td data-label="State">
        <RowMarks row={row} today={today} />
      </td>
    </tr>
  );
}

function RowMarks({ row, today }: { row: ShelfRow; today: string }): JSX.Element {
  const isOver = row.nextDate !== null && row.nextDate < today;
  const isSoonOver = row.nextDate !== null && !isOver && row.nextDate <= addDays(today, SOON_DAYS);
  const isOut = row.onHand === 0;
  return (
    <>
      {row.isLow && (
        <span class="mark bad" safe>
          {lowText(row)}
        </span>
      )}
      {isOver && <span class="mark bad">a lot is past its day</span>}
      {isSoonOver && <span class="mark care">a lot is soon over</span>}
      {isOut && !row.isLow && <span class="hint">none here</span>}
      {!isOut && !row.isLow && !isOver && !isSoonOver && <span class="mark good">well</span>}
    </>
  );
}

function lowText(row: ShelfRow): string {
  return row.wantedFor === 'target'
    ? `under its ${amountText(row.wanted, row.measure)}`
    : `less than ${USE_DAYS} days' use`;
}
