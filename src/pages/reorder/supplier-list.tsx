import { longDay } from '../../ui/dates.js';
import type { PackView } from '../../purchasing/purchasing.schema.js';
import type { ReorderList, ReorderRow } from '../../reorder/reorder.schema.js';
import { Page } from '../../ui/layout.js';
import { amountText, moneyText } from '../../ui/amounts.js';

/** So many packs of one kind, for one item. */
export interface SupplierLine {
  row: ReorderRow;
  pack: PackView;
  packs: number;
}

interface SupplierListProps {
  supplier: { code: string; name: string };
  lines: readonly SupplierLine[];
  list: ReorderList;
  currency: string;
  workshop: string;
}

/** What one supplier is asked for: a plain list to print, or to copy into a message. */
export function SupplierList({ supplier, lines, list, currency, workshop }: SupplierListProps): JSX.Element {
  const totalE4 = lines.reduce((sum, line) => sum + line.packs * line.pack.priceE4, 0);
  return (
    <Page title={`Reorder: ${supplier.name}`} at="/reorder">
      <h1 safe>{`Order for ${supplier.name}`}</h1>
      <p class="hint" safe>{`${workshop}, ${longDay(list.today)}`}</p>
      {lines.length === 0 ? (
        <p class="note none">Nothing has to be ordered from them now.</p>
      ) : (
        <>
          <PackTable lines={lines} totalE4={totalE4} currency={currency} />
          <section class="no-print">
            <h2>To copy</h2>
            <textarea id="order-text" readonly aria-label="The order as text" rows={String(lines.length + 3)} safe>
              {orderText({ supplier, lines, list, currency, workshop }, totalE4)}
            </textarea>
            <p class="row">
              <button type="button" data-copies="order-text" hidden>
                Copy it
              </button>
              <button type="button" data-prints hidden>
                Print it
              </button>
              <a class="button" href="/reorder">
                Everything to reorder
              </a>
            </p>
            <script src="/assets/copy.js" type="module"></script>
          </section>
        </>
      )}
    </Page>
  );
}

function PackTable(props: { lines: readonly SupplierLine[]; totalE4: number; currency: string }): JSX.Element {
  const { lines, totalE4, currency } = props;
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>Pack</th>
          <th>What</th>
          <th class="num">Packs</th>
          <th class="num">In each</th>
          <th class="num">Price each</th>
          <th class="num">Price</th>
          <th>Order by</th>
        </tr>
      </thead>
      <tbody>
        {lines.map(({ row, pack, packs }) => (
          <tr>
            <th scope="row" safe>
              {pack.code}
            </th>
            <td data-label="What" safe>
              {row.name}
            </td>
            <td class="num" data-label="Packs">
              <strong>{packs}</strong>
            </td>
            <td class="num" data-label="In each" safe>
              {amountText(pack.size, row.measure)}
            </td>
            <td class="num" data-label="Price each" safe>
              {moneyText(pack.priceE4, currency)}
            </td>
            <td class="num" data-label="Price" safe>
              {moneyText(packs * pack.priceE4, currency)}
            </td>
            <td data-label="Order by" safe>
              {row.orderBy === null ? '–' : longDay(row.orderBy)}
            </td>
          </tr>
        ))}
      </tbody>
      <tfoot>
        <tr>
          <th scope="row">Together</th>
          <td class="num" colspan="5" data-label="Price">
            <strong safe>{moneyText(totalE4, currency)}</strong>
          </td>
          <td></td>
        </tr>
      </tfoot>
    </table>
  );
}

function orderText({ lines, list, currency, workshop }: SupplierListProps, totalE4: number): string {
  const rows = lines.map(
    ({ row, pack, packs }) => `${packs} × ${pack.code}, ${row.name}, ${amountText(pack.size, row.measure)} each`,
  );
  return [`Order of ${workshop}, ${longDay(list.today)}`, '', ...rows, `Total ${moneyText(totalE4, currency)}`].join(
    '\n',
  );
}
