import { Body, Controller, Get, Header, HttpCode, Post, Query, Res } from '@nestjs/common';
import { ApiExcludeController } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { FAMILIES, type Family } from '../catalog/item.entity.js';
import { WorkshopService } from '../catalog/workshop.service.js';
import { shortDay } from '../planning/words.js';
import { Who } from '../platform/person.js';
import { notFound } from '../platform/problem.js';
import { readableCode } from '../platform/schema.js';
import type { PackView } from '../purchasing/purchasing.schema.js';
import { SuppliersService } from '../purchasing/suppliers.service.js';
import { type ReorderList, reorderDraft, type ReorderRow } from '../reorder/reorder.schema.js';
import { ReorderService } from '../reorder/reorder.service.js';
import { blankIsNone, bodyOf, type Fault, faultOf, FaultNote, goTo, type Sent, sentForm } from './parts/form.js';
import { Page } from './parts/layout.js';
import { ProjectionLine } from './parts/projection-line.js';
import { ReorderOrders } from './parts/reorder-orders.js';
import { ifNotOrdered, limitWords } from './parts/reorder-words.js';
import { FAMILY_WORDS } from './parts/shelf-words.js';
import { type SupplierLine, SupplierList } from './parts/supplier-list.js';
import { amountText, count, moneyText } from './parts/text.js';

const HTML = ['content-type', 'text/html; charset=utf-8'] as const;
const reorderQuery = z.strictObject({ supplier: blankIsNone(readableCode) });

/** What to buy, how much, by which day; fragrances first, since they take longest to come. */
@ApiExcludeController()
@Controller('reorder')
export class ReorderPage {
  constructor(
    private readonly reorder: ReorderService,
    private readonly suppliers: SuppliersService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  @Header(...HTML)
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
  @Header(...HTML)
  async draft(
    @Who() who: string,
    @Body({ schema: sentForm }) sent: Sent,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
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

const packOf = (key: string): string => key.slice(key.indexOf('/') + 1);

interface ReorderViewProps {
  list: ReorderList;
  currency: string;
  fault: Fault | undefined;
}

function ReorderView({ list, currency, fault }: ReorderViewProps): JSX.Element {
  const { rows, today } = list;
  const families = FAMILIES.filter((family) => rows.some((row) => row.family === family));
  return (
    <Page title="Reorder" at="/reorder">
      <h1>What to reorder</h1>
      <FaultNote fault={fault} />
      <p class="row no-print">
        <a class="button" href="/purchase-orders">
          Purchase orders
        </a>
      </p>
      {rows.length === 0 ? (
        <div class="note">
          <p>
            <strong>Nothing has to be ordered now.</strong>
          </p>
          <p>Everything that is bought lasts until it could be here again, and some weeks longer.</p>
        </div>
      ) : (
        <>
          <p safe>{answerOf(list, currency)}</p>
          {families.map((family) => (
            <FamilyTable family={family} rows={rows.filter((row) => row.family === family)} {...{ today, currency }} />
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

/** Which fragrances, how many packs, by which day: the page in two sentences. */
function answerOf({ rows, reviewDays }: ReorderList, currency: string): string {
  const due = rows.filter((row) => row.due);
  const scents = due.filter((row) => row.family === 'fragrance' && row.orderBy !== null);
  const costE4 = due.reduce((sum, row) => sum + row.costE4, 0);
  const days = scents.map((row) => row.orderBy!).sort();
  const packs = scents.reduce((sum, row) => sum + row.packs.reduce((n, pack) => n + pack.count, 0), 0);
  const first =
    scents.length === 0
      ? 'No fragrance has to be ordered now.'
      : `${count(scents.length, 'fragrance')} to order, ${count(packs, 'pack')}, the first by ${shortDay(days[0]!)}.`;
  const later = rows.length - due.length;
  const all = `In all ${count(due.length, 'item')} before the next look in ${count(reviewDays, 'day')}, ${moneyText(costE4, currency)} without freight${later > 0 ? `; ${count(later, 'more', 'more')} can wait` : ''}.`;
  return `${first} ${all}`;
}

function FamilyTable(props: {
  family: Family;
  rows: readonly ReorderRow[];
  today: string;
  currency: string;
}): JSX.Element {
  const { family, rows, today, currency } = props;
  return (
    <section>
      <h2 safe>{FAMILY_WORDS[family]}</h2>
      <table class="stack reorder">
        <thead>
          <tr>
            <th>Item</th>
            <th>Free by day</th>
            <th>Order by</th>
            <th>Packs</th>
            <th>If not</th>
            <th class="num">Cost</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr>
              <th scope="row">
                <a href={`/shelf/items/${row.item}`} safe>
                  {row.name}
                </a>
                <div class="hint">
                  <a href={`/why/reorder/${row.item}`} safe>
                    {stockText(row)}
                  </a>
                </div>
              </th>
              <td data-label="Free by day">
                <ProjectionLine row={row} today={today} />
              </td>
              <td data-label="Order by">
                <OrderBy row={row} />
              </td>
              <td data-label="Packs">
                <Packs row={row} />
              </td>
              <td data-label="If not">
                {ifNotOrdered(row).map((told) => (
                  <div safe>{told}</div>
                ))}
              </td>
              <td class="num" data-label="Cost">
                <Cost row={row} currency={currency} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function stockText(row: ReorderRow): string {
  const amount = (quantity: number): string => amountText(quantity, row.measure);
  const coming = row.onTheWay > 0 ? `, ${amount(row.onTheWay)} on the way` : '';
  const wanted = row.wanted > 0 ? `, ${amount(row.wanted)} wanted` : '';
  return `${amount(row.free)} free${coming}; ${amount(row.keep)} to be kept${wanted}`;
}

function OrderBy({ row }: { row: ReorderRow }): JSX.Element {
  if (row.wanted === 0) return <span class="mark care">short until what is on the way comes</span>;
  if (row.orderBy === null) return <span class="mark bad">nobody sells it</span>;
  if (row.overdue)
    return (
      <span class="mark bad" safe>
        {`${shortDay(row.orderBy)}, which is past`}
      </span>
    );
  return row.due ? (
    <span class="mark care" safe>
      {shortDay(row.orderBy)}
    </span>
  ) : (
    <>
      <span safe>{shortDay(row.orderBy)}</span>
      <div class="hint">can wait</div>
    </>
  );
}

function Packs({ row }: { row: ReorderRow }): JSX.Element {
  if (row.wanted === 0) return <span class="hint">nothing more: ask for it sooner</span>;
  if (row.packs.length === 0)
    return (
      <span class="hint" safe>
        {`Write down who sells ${row.item} and in which packs.`}
      </span>
    );
  const limit = limitWords(row);
  return (
    <>
      {row.packs.map(({ key, count: packs }) => (
        <div>
          <span safe>{`${packs} × ${packOf(key)}`}</span>
        </div>
      ))}
      <div class="hint" safe>
        {`${amountText(row.packsTotal, row.measure)} in all, from ${row.supplier}`}
      </div>
      {limit === null ? (
        ''
      ) : (
        <div class="hint" safe>
          {limit}
        </div>
      )}
    </>
  );
}

function Cost({ row, currency }: { row: ReorderRow; currency: string }): JSX.Element {
  return (
    <>
      <span safe>{row.packs.length === 0 ? '–' : moneyText(row.costE4, currency)}</span>
      {row.wasteE4 > 0 ? (
        <div class="hint" safe>
          {`${moneyText(row.wasteE4, currency)} of it will be thrown away`}
        </div>
      ) : (
        ''
      )}
      {row.gapE4 > 0 ? (
        <div class="hint" safe>
          {`at most ${moneyText(row.gapE4, currency)} above the cheapest`}
        </div>
      ) : (
        ''
      )}
    </>
  );
}
