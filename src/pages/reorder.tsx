import { Controller, Get, Header, Query } from '@nestjs/common';
import { ApiExcludeController } from '@nestjs/swagger';
import { z } from 'zod';
import { FAMILIES, type Family } from '../catalog/item.entity.js';
import { WorkshopService } from '../catalog/workshop.service.js';
import { shortDay } from '../planning/words.js';
import { notFound } from '../platform/problem.js';
import { readableCode } from '../platform/schema.js';
import type { PackView } from '../purchasing/purchasing.schema.js';
import { SuppliersService } from '../purchasing/suppliers.service.js';
import type { ReorderList, ReorderRow } from '../reorder/reorder.schema.js';
import { ReorderService } from '../reorder/reorder.service.js';
import { blankIsNone } from './parts/form.js';
import { Page } from './parts/layout.js';
import { ProjectionLine } from './parts/projection-line.js';
import { type SupplierLine, SupplierList } from './parts/supplier-list.js';
import { FAMILY_WORDS } from './parts/shelf-words.js';
import { amountText, count, moneyText } from './parts/text.js';

const HTML = ['content-type', 'text/html; charset=utf-8'] as const;
const reorderQuery = z.strictObject({ supplier: blankIsNone(readableCode) });
type Suppliers = readonly { code: string; name: string }[];

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
    const list = await this.reorder.list();
    const { currency, name } = await this.workshop.get();
    const { suppliers } = await this.suppliers.list();
    if (supplier === undefined) return <ReorderView list={list} suppliers={suppliers} currency={currency} />;
    const found = suppliers.find(({ code }) => code === supplier);
    if (!found) throw notFound('supplier', supplier);
    const { packs } = await this.suppliers.packs({ supplier });
    return <SupplierList supplier={found} lines={linesFor(list, packs)} {...{ list, currency, workshop: name }} />;
  }
}

/** What of the list is bought in these packs, the earliest last day first. */
function linesFor(list: ReorderList, packs: readonly PackView[]): SupplierLine[] {
  const byKey = new Map(packs.map((pack) => [`${pack.supplier}/${pack.code}`, pack]));
  return list.rows.flatMap((row) =>
    row.packs.flatMap(({ key, count: chosen }) => {
      const pack = byKey.get(key);
      return pack ? [{ row, pack, packs: chosen }] : [];
    }),
  );
}

const supplierOf = (key: string): string => key.slice(0, key.indexOf('/'));
const packOf = (key: string): string => key.slice(key.indexOf('/') + 1);

interface ReorderViewProps {
  list: ReorderList;
  suppliers: Suppliers;
  currency: string;
}

function ReorderView({ list, suppliers, currency }: ReorderViewProps): JSX.Element {
  const { rows, today } = list;
  const families = FAMILIES.filter((family) => rows.some((row) => row.family === family));
  const total = rows.reduce((sum, row) => sum + row.costE4, 0);
  return (
    <Page title="Reorder" at="/reorder">
      <h1>What to reorder</h1>
      {rows.length === 0 ? (
        <div class="note">
          <p>
            <strong>Nothing has to be ordered now.</strong>
          </p>
          <p>Everything that is bought lasts until it could be here again, and a week longer.</p>
        </div>
      ) : (
        <>
          <p safe>
            {`${count(rows.length, 'item')} ${rows.length === 1 ? 'runs' : 'run'} out before more could come, a week's wait included; the packs cost ${moneyText(total, currency)} together.`}
          </p>
          <SupplierLinks rows={rows} suppliers={suppliers} />
          {families.map((family) => (
            <FamilyTable family={family} rows={rows.filter((row) => row.family === family)} {...{ today, currency }} />
          ))}
          <p class="hint">
            The line is what is free by day if nothing is ordered. Upright with a square: the last day to order. Dot:
            the day it runs out, or falls under what should be kept (dashed).
          </p>
        </>
      )}
    </Page>
  );
}

function SupplierLinks({ rows, suppliers }: { rows: readonly ReorderRow[]; suppliers: Suppliers }): JSX.Element {
  const asked = new Set(rows.flatMap((row) => row.packs.map(({ key }) => supplierOf(key))));
  const shown = suppliers.filter(({ code }) => asked.has(code));
  if (shown.length === 0) return <></>;
  return (
    <nav class="row no-print" aria-label="A list for each supplier">
      {shown.map(({ code, name }) => (
        <a class="button" href={`/reorder?supplier=${encodeURIComponent(code)}`} safe>
          {`List for ${name}`}
        </a>
      ))}
    </nav>
  );
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
            <th>Runs out</th>
            <th>Order by</th>
            <th>Packs</th>
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
              <td data-label="Runs out" safe>
                {row.runsOutOn === null ? '–' : shortDay(row.runsOutOn)}
              </td>
              <td data-label="Order by">
                <OrderBy row={row} />
              </td>
              <td data-label="Packs">
                <Packs row={row} />
              </td>
              <td class="num" data-label="Cost">
                <span safe>{row.packs.length === 0 ? '–' : moneyText(row.costE4, currency)}</span>
                {row.gapE4 > 0 ? (
                  <div class="hint" safe>
                    {`at most ${moneyText(row.gapE4, currency)} above the cheapest`}
                  </div>
                ) : (
                  ''
                )}
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
  return `${amount(row.free)} free${coming}; ${amount(row.expectedUse)} will be used, ${amount(row.wanted)} wanted`;
}

function OrderBy({ row }: { row: ReorderRow }): JSX.Element {
  if (row.wanted === 0) return <span class="mark care">short until what is on the way comes</span>;
  if (row.orderBy === null) return <span class="mark bad">nobody sells it</span>;
  return row.overdue ? (
    <span class="mark bad" safe>
      {`${shortDay(row.orderBy)}, which is past`}
    </span>
  ) : (
    <span class="mark care" safe>
      {shortDay(row.orderBy)}
    </span>
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
  return (
    <>
      {row.packs.map(({ key, count: packs }) => (
        <div>
          <span safe>{`${packs} × ${packOf(key)}`}</span>{' '}
          <a href={`/reorder?supplier=${encodeURIComponent(supplierOf(key))}`} safe>
            {supplierOf(key)}
          </a>
        </div>
      ))}
      <div class="hint">
        <a href={`/why/reorder/${row.item}`} safe>
          {`${amountText(row.packsTotal, row.measure)} in all`}
        </a>
      </div>
    </>
  );
}
