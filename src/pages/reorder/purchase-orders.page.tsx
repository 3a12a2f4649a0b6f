import { Get, Query } from '@nestjs/common';
import { z } from 'zod';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { shortDay } from '../../ui/dates.js';
import { Clock } from '../../platform/clock.js';
import { readableCode } from '../../platform/schema.js';
import type { PurchaseOrderPage as Orders } from '../../purchasing/purchase-orders.schema.js';
import { PurchaseOrdersService } from '../../purchasing/purchase-orders.service.js';
import { blankIsNone } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { comesWords, StatusMark } from './purchase-words.js';
import { moneyText } from '../../ui/amounts.js';
import { PageController } from '../../ui/page-controller.js';

const ROWS = 50;
const listQuery = z.strictObject({ after: blankIsNone(readableCode) });

/** What was ordered from suppliers, the newest first. */
@PageController('purchase-orders')
export class PurchaseOrdersPage {
  constructor(
    private readonly orders: PurchaseOrdersService,
    private readonly workshop: WorkshopService,
    private readonly clock: Clock,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) { after }: z.infer<typeof listQuery>) {
    const page = await this.orders.list({ limit: ROWS, after });
    const { currency } = await this.workshop.get();
    return <ListView page={page} currency={currency} today={await this.clock.today()} />;
  }
}

const NAMED_MAX = 3;

function whatWords(names: readonly string[]): string {
  const more = names.length - NAMED_MAX;
  return more > 0 ? `${names.slice(0, NAMED_MAX).join(', ')} and ${more} more` : names.join(', ');
}

function ListView({ page, currency, today }: { page: Orders; currency: string; today: string }): JSX.Element {
  return (
    <Page title="Purchase orders" at="/reorder">
      <h1>Purchase orders</h1>
      {page.orders.length === 0 ? (
        <p class="note none">
          None yet. What has to be ordered, and the way to make an order of it, is on <a href="/reorder">Reorder</a>.
        </p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Order</th>
              <th>To</th>
              <th>What</th>
              <th>How it stands</th>
              <th class="num">Goods</th>
            </tr>
          </thead>
          <tbody>
            {page.orders.map((order) => (
              <tr>
                <th scope="row">
                  <a href={`/purchase-orders/${order.code}`} safe>
                    {order.code}
                  </a>
                  <div class="hint" safe>
                    {shortDay(order.createdOn)}
                  </div>
                </th>
                <td data-label="To" safe>
                  {order.supplierName}
                </td>
                <td data-label="What" safe>
                  {whatWords([...new Set(order.lines.map(({ name }) => name))])}
                </td>
                <td data-label="How it stands">
                  <StatusMark status={order.status} />
                  <div class="hint" safe>
                    {comesWords(order, today) ?? ''}
                  </div>
                </td>
                <td class="num" data-label="Goods" safe>
                  {moneyText(order.goodsE4, currency)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <p class="row no-print">
        <a class="button" href="/reorder">
          To the reorder list
        </a>
        {page.next !== null && (
          <a class="button" href={`/purchase-orders?after=${page.next}`}>
            Older ones
          </a>
        )}
      </p>
    </Page>
  );
}
