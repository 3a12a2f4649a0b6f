import type { Family } from '../../catalog/item.entity.js';
import type { ReorderList, ReorderRow } from '../../reorder/reorder.schema.js';
import { ProjectionLine } from './elsewhere/projection-line.js';
import { byDay, comesAlong, ifNotOrdered, limitWords } from './elsewhere/reorder-words.js';
import { FAMILY_WORDS } from '../shelf/elsewhere/shelf-words.js';
import { amountText, moneyText } from '../../ui/amounts.js';

const packOf = (key: string): string => key.slice(key.indexOf('/') + 1);

interface FamilyTableProps {
  family: Family;
  rows: readonly ReorderRow[];
  list: ReorderList;
  currency: string;
  /** Code of the draft an item is on already, by item. */
  drafted: ReadonlyMap<string, string>;
}

/** One family's items that run short: by which day, how many packs, what happens otherwise, and how it goes down. */
export function FamilyTable({ family, rows, list, currency, drafted }: FamilyTableProps): JSX.Element {
  return (
    <section>
      <h2 safe>{FAMILY_WORDS[family]}</h2>
      <table class="stack reorder">
        <thead>
          <tr>
            <th>Item</th>
            <th>Order by</th>
            <th>Packs</th>
            <th>If you do not</th>
            <th>Free by day</th>
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
              <td data-label="Order by">
                <OrderBy row={row} list={list} draft={drafted.get(row.item)} />
              </td>
              <td data-label="Packs">
                <Packs row={row} />
              </td>
              <td data-label="If you do not">
                {ifNotOrdered(row, list.today).map((told) => (
                  <div safe>{told}</div>
                ))}
              </td>
              <td data-label="Free by day">
                <ProjectionLine row={row} today={list.today} />
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

function OrderBy(props: { row: ReorderRow; list: ReorderList; draft: string | undefined }): JSX.Element {
  const { row, list, draft } = props;
  const { today } = list;
  if (row.wanted === 0) return <span class="mark care">short until what is on the way comes</span>;
  if (row.orderBy === null) return <span class="mark bad">nobody sells it</span>;
  const isAlong = comesAlong(row, list);
  const mark = row.overdue ? 'mark bad' : row.due && !isAlong ? 'mark care' : '';
  return (
    <>
      <span class={mark} safe>
        {byDay(row.orderBy, today).replace('by ', '')}
      </span>
      {!row.due && <div class="hint">can wait</div>}
      {isAlong && <div class="hint">comes along with others</div>}
      {draft !== undefined && (
        <div class="hint">
          <a href={`/purchase-orders/${draft}`} safe>
            {`draft ${draft}`}
          </a>
        </div>
      )}
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
      {limit !== null && (
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
      {row.wasteE4 > 0 && (
        <div class="hint" safe>
          {`${moneyText(row.wasteE4, currency)} of it will be thrown away`}
        </div>
      )}
      {row.gapE4 > 0 && (
        <div class="hint" safe>
          {`at most ${moneyText(row.gapE4, currency)} above the cheapest`}
        </div>
      )}
    </>
  );
}
