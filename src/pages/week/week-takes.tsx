import type { Week } from '../../planning/week.service.js';
import { amountText } from '../../ui/amounts.js';

/** What the week takes of each material, and from where; each amount leads to what it is made of. */
export function WeekTakes({ week: { takes } }: { week: Week }): JSX.Element {
  if (!takes || takes.needs.length === 0) return <></>;
  return (
    <details>
      <summary>What the week takes</summary>
      <table class="stack dense">
        <caption>
          This week is what its batches take; all planned counts later weeks too, and is what the shelf and deliveries
          have to cover.
        </caption>
        <thead>
          <tr>
            <th>Material</th>
            <th class="num">This week</th>
            <th class="num">All planned</th>
            <th class="num">From the shelf</th>
            <th class="num">On the way</th>
            <th class="num">Short</th>
          </tr>
        </thead>
        <tbody>
          {takes.needs.map((row) => (
            <tr>
              <th scope="row">
                <a href={`/shelf/items/${row.item}`} safe>
                  {row.name}
                </a>
              </th>
              <td class="num" data-label="This week">
                <a href={`/why/need/${takes.runId}/${row.item}`} safe>
                  {amountText(row.inWeek, row.measure)}
                </a>
              </td>
              <td class="num" data-label="All planned" safe>
                {amountText(row.quantity, row.measure)}
              </td>
              <td class="num" data-label="From the shelf" safe>
                {amountText(row.fromLots, row.measure)}
              </td>
              <td class="num" data-label="On the way" safe>
                {row.fromDeliveries === 0 ? '–' : amountText(row.fromDeliveries, row.measure)}
              </td>
              <td class="num" data-label="Short">
                {row.missing === 0 ? (
                  '–'
                ) : (
                  <a href={`/why/need/${takes.runId}/${row.item}`} class="mark bad" safe>
                    {`${amountText(row.missing, row.measure)} short`}
                  </a>
                )}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </details>
  );
}
