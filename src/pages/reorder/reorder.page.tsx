import { Get, HttpCode, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { FAMILIES } from '../../catalog/item.entity.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { notFound } from '../../platform/problem.js';
import { readableCode } from '../../platform/schema.js';
import type { PackView } from '../../purchasing/purchasing.schema.js';
import { SuppliersService } from '../../purchasing/suppliers.service.js';
import { type ReorderList, reorderDraft } from '../../reorder/reorder.schema.js';
import { ReorderService } from '../../reorder/reorder.service.js';
import { blankIsNone, bodyOf, type Fault, faultOf, FaultNote, goTo } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { ReorderOrders } from './reorder-orders.js';
import { FamilyTable } from './reorder-table.js';
import { byDay, comesAlong } from './elsewhere/reorder-words.js';
import { type SupplierLine, SupplierList } from './supplier-list.js';
import { moneyText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const reorderQuery = z.strictObject({ supplier: blankIsNone(readableCode) });

/** What to buy, how much, by which day; fragrances first, since they take longest to come. */
@PageController('reorder')
export class ReorderPage {
  constructor(
    private readonly reorder: ReorderService,
    private readonly suppliers: SuppliersService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  async list(@Query({ schema: reorderQuery }) { supplier }: z.infer<typeof reorderQuery>) {
    if (supplier === undefined) return this.view(undefined);
    const list = await this.reorder.list();
    const { currency, name } = await this.workshop.get();
    const { suppliers } = await this.suppliers.list();
    const found = suppliers.find(({ code }) => code === supplier);
    if (!found) throw notFound('supplier', supplier);
    const { packs } = await this.suppliers.packs({ supplier });
    return <SupplierList supplier={found} lines={linesFor(list, packs)} {...{ list, currency, workshop: name }} />;
  }

  /** Makes a purchase order of what is to be ordered together. */
  @Post('drafts')
  @HttpCode(200)
  async draft(@Filled() { who, sent, reply }: Filled) {
    try {
      const items = (sent['items'] ?? '').split(' ').filter((item) => item !== '');
      const { code } = await this.reorder.draft(who, bodyOf(reorderDraft, { supplier: sent['supplier'], items }));
      return goTo(reply, `/purchase-orders/${code}`, { said: 'drafted' });
    } catch (error) {
      return this.view(faultOf(error, reply));
    }
  }

  private async view(fault: Fault | undefined) {
    const { currency } = await this.workshop.get();
    return <ReorderView list={await this.reorder.list()} currency={currency} fault={fault} />;
  }
}

/** What of the list is bought in these packs, the earliest last day first. */
function linesFor(list: ReorderList, packs: readonly PackView[]): SupplierLine[] {
  const byKey = new Map(packs.map((pack) => [`${pack.supplier}/${pack.code}`, pack]));
  return list.rows.flatMap((row) =>
    row.packs.flatMap(({ key, count: chosen, priceE4 }) => {
      const pack = byKey.get(key);
      return pack && row.due ? [{ row, pack: { ...pack, priceE4 }, packs: chosen }] : [];
    }),
  );
}

interface ReorderViewProps {
  list: ReorderList;
  currency: string;
  fault: Fault | undefined;
}

function ReorderView({ list, currency, fault }: ReorderViewProps): JSX.Element {
  const { rows } = list;
  const families = FAMILIES.filter((family) => rows.some((row) => row.family === family));
  const drafted = new Map(
    list.orders.flatMap(({ draft, lines }) =>
      lines.flatMap((line) => (line.drafted && draft !== null ? [[line.item, draft] as const] : [])),
    ),
  );
  return (
    <Page title="Reorder" at="/reorder">
      <h1>What to reorder</h1>
      <FaultNote fault={fault} />
      {rows.length === 0 ? (
        <div class="note none">
          <p>
            <strong>Nothing has to be ordered now.</strong>
          </p>
          <p>Everything that is bought lasts until it could be here again, and some weeks longer.</p>
          <ToOrders />
        </div>
      ) : (
        <>
          <p safe>{answerOf(list, currency)}</p>
          <ToOrders />
          {families.map((family) => (
            <FamilyTable
              family={family}
              rows={rows.filter((row) => row.family === family)}
              {...{ list, currency, drafted }}
            />
          ))}
          <p class="hint">
            The line is what is free by day if nothing is ordered, the band around it where it stays four times in five.
            Upright with a square: the last day to order. Dot: the day it falls under what should be kept (dashed), or
            runs out.
          </p>
          <ReorderOrders list={list} currency={currency} />
        </>
      )}
    </Page>
  );
}

function ToOrders(): JSX.Element {
  return (
    <p class="row no-print">
      <a class="button" href="/purchase-orders">
        Purchase orders
      </a>
      <a class="button" href="/suppliers">
        Suppliers
      </a>
    </p>
  );
}

const NAMED_MAX = 4;

/** Which fragrances, how many packs, by which day: the page in a few sentences. */
function answerOf(list: ReorderList, currency: string): string {
  const { rows, reviewDays, today } = list;
  const due = rows.filter((row) => row.due);
  const scents = due.filter((row) => row.family === 'fragrance' && row.orderBy !== null);
  const now = scents.filter((row) => !comesAlong(row, list));
  const named = now.slice(0, NAMED_MAX).map((row) => `${row.name} ${byDay(row.orderBy!, today)}`);
  const more = now.length > NAMED_MAX ? `; and ${now.length - NAMED_MAX} more` : '';
  const packs = now.reduce((sum, row) => sum + row.packs.reduce((n, pack) => n + pack.count, 0), 0);
  const first =
    now.length === 0
      ? 'No fragrance has to be ordered now.'
      : `Order ${count(now.length, 'fragrance')}, ${count(packs, 'pack')}: ${named.join('; ')}${more}.`;
  const along = scents.length - now.length;
  const costE4 = due.reduce((sum, row) => sum + row.costE4, 0);
  const later = rows.length - due.length;
  return [
    first,
    along > 0 ? `${count(along, 'more comes', 'more come')} along, cheaper than in a parcel of their own.` : '',
    `In all ${count(due.length, 'item')} before the next look in ${count(reviewDays, 'day')}, ${moneyText(costE4, currency)} without freight${later > 0 ? `; ${later} more can wait` : ''}.`,
  ]
    .filter((sentence) => sentence !== '')
    .join(' ');
}
