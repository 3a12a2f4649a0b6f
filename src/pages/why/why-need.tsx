import type { WhyNeed } from '../../planning/why.service.js';
import { shortDay } from '../../ui/dates.js';
import { Page } from '../../ui/layout.js';
import { lineAddress } from '../../ui/addresses.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

/** Rows shown before the rest is only counted. */
const ROWS_MAX = 200;

/** Why a material is needed: the arithmetic, each batch and order line that takes it, and what there is. */
export function WhyNeedView({ why }: { why: WhyNeed }): JSX.Element {
  const { item, need } = why;
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  return (
    <Page title={`Why ${item.name} is needed`} at="/week">
      <h1 safe>{`Why is ${amount(need.inWeek)} of ${item.name} needed this week?`}</h1>
      <p class="hint" safe>{`Plan ${why.runId}, ${shortDay(why.weekStart)} to ${shortDay(why.weekEnd)}`}</p>
      <h2>The arithmetic</h2>
      <ul>
        {arithmeticOf(why).map((line) => (
          <li safe>{line}</li>
        ))}
      </ul>
      <Takers why={why} />
      <There why={why} />
      <p class="row no-print">
        <a class="button" href={`/week/${why.weekStart}`}>
          To the week
        </a>
        <a class="button" href={`/shelf/items/${item.code}`}>
          To its lots
        </a>
        {why.isShort && (
          <a class="button" href={`/why/short/${why.runId}/${item.code}`}>
            Why it is short
          </a>
        )}
        {item.kind === 'material' && (
          <a class="button" href={`/why/reorder/${item.code}`}>
            How much to order
          </a>
        )}
      </p>
    </Page>
  );
}

/** From what takes it to what covers it, one line each; the sums are those of the tables below. */
function arithmeticOf({ item, need, batches, lines, fullAt }: WhyNeed): string[] {
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  const sum = (rows: readonly { quantity: number }[]): number => rows.reduce((all, row) => all + row.quantity, 0);
  const week = batches.filter(({ inWeek }) => inWeek);
  const sold = need.quantity - sum(batches);
  const rest = need.quantity - need.fromLots - need.fromDeliveries - need.missing;
  return [
    `${count(week.length, 'batch', 'batches')} of the week take ${amount(sum(week))}; all that is planned so far, ${count(batches.length, 'batch', 'batches')}, takes ${amount(sum(batches))}.`,
    ...(lines.length > 0 ? [`${count(lines.length, 'order line')} to be sold as it is: ${amount(sold)}.`] : []),
    ...(fullAt === null
      ? []
      : [`The plan is full at ${fullAt.toLocaleString('en')} batches: what it leaves out would take more.`]),
    `Each batch takes what its weighing sheet says for its size, with what is lost on the way.`,
    `Covered by lots on the shelf: ${amount(need.fromLots)}; by deliveries on the way: ${amount(need.fromDeliveries)}.`,
    ...(rest > 0
      ? [`${amount(rest)} is left on the shelf by batches that lack something else, so nothing is set aside for them.`]
      : []),
    need.missing > 0
      ? `${amount(need.quantity)} less all that: ${amount(need.missing)} short.`
      : 'Nothing of it is short.',
  ];
}

function Takers({ why }: { why: WhyNeed }): JSX.Element {
  const amount = (quantity: number): string => amountText(quantity, why.item.measure);
  const shown = why.batches.slice(0, ROWS_MAX);
  return (
    <>
      <h2>Who takes it</h2>
      <table class="stack dense">
        <thead>
          <tr>
            <th>For</th>
            <th>Day</th>
            <th class="num">Takes</th>
            <th class="num">Short</th>
          </tr>
        </thead>
        <tbody>
          {shown.map((row) => (
            <tr>
              <th scope="row">
                <a href={`/why/batch/${why.runId}/${encodeURIComponent(row.key)}`} safe>
                  {row.name}
                </a>
                <div class="hint" safe>
                  {row.key}
                </div>
              </th>
              <td data-label="Day" safe>
                {row.day === null ? 'no day yet' : `${shortDay(row.day)}${row.inWeek ? '' : ', after the week'}`}
              </td>
              <td class="num" data-label="Takes" safe>
                {amount(row.quantity)}
              </td>
              <td class="num" data-label="Short" safe>
                {row.missing === 0 ? '–' : amount(row.missing)}
              </td>
            </tr>
          ))}
          {why.lines.slice(0, ROWS_MAX).map((row) => (
            <tr>
              <th scope="row">
                <a href={lineAddress(row.key)} safe>{`Order ${row.key}`}</a>
              </th>
              <td data-label="Day" safe>
                {shortDay(row.day)}
              </td>
              <td class="num" data-label="Takes" safe>
                {amount(row.quantity)}
              </td>
              <td class="num" data-label="Short" safe>
                {row.missing === 0 ? '–' : amount(row.missing)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {why.batches.length > ROWS_MAX && (
        <p class="hint" safe>{`and ${why.batches.length - ROWS_MAX} more batches, later`}</p>
      )}
    </>
  );
}

function There({ why }: { why: WhyNeed }): JSX.Element {
  const amount = (quantity: number): string => amountText(quantity, why.item.measure);
  if (why.lots.length + why.deliveries.length === 0)
    return <p class="note care">Nothing of it was free when this was planned, and nothing is on the way.</p>;
  return (
    <>
      <h2>What there was to take, when this was planned</h2>
      <ul>
        {why.lots.slice(0, ROWS_MAX).map((lot) => (
          <li>
            <a href={`/shelf/lots/${encodeURIComponent(lot.code)}`} safe>{`Lot ${lot.code}`}</a>
            <span safe>
              {`: ${amount(lot.free)} free${lot.expiresOn === null ? '' : `, good until ${shortDay(lot.expiresOn)}`}`}
            </span>
          </li>
        ))}
        {why.deliveries.map((row) => (
          <li safe>{`Delivery ${row.key.split('#')[0]}: ${amount(row.free)}, expected ${shortDay(row.day)}`}</li>
        ))}
        {why.lots.length > ROWS_MAX && <li safe>{`and ${why.lots.length - ROWS_MAX} more lots`}</li>}
      </ul>
    </>
  );
}
