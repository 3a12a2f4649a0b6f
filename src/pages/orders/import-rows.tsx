import type { ImportReport } from '../../orders/import.schema.js';
import { shortDay } from '../../ui/dates.js';
import { count } from '../../ui/words.js';

/** How many rows of each kind a file has. */
export function Counts({ report }: { report: ImportReport }): JSX.Element {
  const { rows, orders, units } = report;
  const told: [word: string, rowCount: number, meaning: string][] = [
    ['New lines', rows.new, `${count(orders.new, 'new order')}, ${count(units.planned, 'piece')} to make or send`],
    ['Known already', rows.known, 'nothing changes'],
    ['Changed since', rows.amended, 'listed below'],
    ['Cancelled', rows.cancelled, 'not planned, listed below'],
    ['Sent by the shop', rows.fulfilled, 'kept as history'],
    ['Cannot be taken', rows.bad, 'listed below'],
  ];
  return (
    <dl class="facts">
      <dt>Rows</dt>
      <dd safe>{rows.read.toLocaleString('en')}</dd>
      {told
        .filter(([, rowCount]) => rowCount > 0)
        .map(([word, rowCount, meaning]) => (
          <>
            <dt safe>{word}</dt>
            <dd>
              <span class={word === 'Cannot be taken' ? 'mark bad' : ''} safe>
                {rowCount.toLocaleString('en')}
              </span>{' '}
              <span class="hint" safe>
                {meaning}
              </span>
            </dd>
          </>
        ))}
      {orders.waiting > 0 && (
        <>
          <dt>Wait for payment</dt>
          <dd safe>{`${count(orders.waiting, 'order')}, not planned before they are paid`}</dd>
        </>
      )}
    </dl>
  );
}

const ROWS_SHOWN = 20;

/** Rows that cannot be taken, each with its reason; those with an unknown code have a place of their own. */
export function BadRows({ report }: { report: ImportReport }): JSX.Element {
  const others = report.problems.filter(({ code }) => report.written || code !== 'unknown-code');
  const total = Object.entries(report.problemCounts).reduce(
    (sum, [code, rows]) => sum + (report.written || code !== 'unknown-code' ? rows : 0),
    0,
  );
  if (total === 0) return <></>;
  const shown = others.slice(0, ROWS_SHOWN);
  return (
    <section>
      <h2>{report.written ? 'Rows left out' : 'Rows that cannot be taken'}</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Line</th>
            <th>Column</th>
            <th>Why</th>
          </tr>
        </thead>
        <tbody>
          {shown.map((row) => (
            <tr>
              <th scope="row" class="day" safe>{`Line ${row.line}`}</th>
              <td data-label="Column" safe>
                {row.column || 'the whole row'}
              </td>
              <td data-label="Why" safe>
                {row.detail}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <More total={total} shown={shown.length} word="fault" />
    </section>
  );
}

/** The first of the lines that are new here. */
export function GoodRows({ report }: { report: ImportReport }): JSX.Element {
  if (report.newLines.length === 0) return <></>;
  return (
    <section>
      <h2>New lines</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Order</th>
            <th>What</th>
            <th class="num">How many</th>
            <th>Ship by</th>
          </tr>
        </thead>
        <tbody>
          {report.newLines.map((line) => (
            <tr>
              <th scope="row">
                <span safe>{line.number}</span>
                <div class="hint" safe>
                  {line.customer ?? line.channel}
                </div>
              </th>
              <td data-label="What" safe>
                {line.item === line.code ? line.item : `${line.item} (${line.code})`}
              </td>
              <td class="num" data-label="How many">
                {line.quantity}
              </td>
              <td data-label="Ship by" safe>
                {shortDay(line.shipBy)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <More total={report.rows.new} shown={report.newLines.length} word="new line" />
    </section>
  );
}

const REASONS: Record<ImportReport['cancellations'][number]['reason'], string> = {
  'negative-quantity': 'taken back',
  'cancelled-order': 'cancelled by the shop',
  'cancelled-here': 'the order is cancelled here',
};

const FIELD_WORDS: Record<string, string> = {
  item: 'item',
  quantity: 'how many',
  shipped: 'sent',
  cancelled: 'cancelled',
  shipBy: 'ship by',
  notBefore: 'not before',
  status: 'state',
  placedOn: 'placed on',
  customer: 'customer',
  weight: 'counts as',
  urgent: 'urgent',
};

/** Lines that changed since, or are cancelled. */
export function Changes({ report }: { report: ImportReport }): JSX.Element {
  const changed = report.amendments.slice(0, ROWS_SHOWN).map((row) => ({
    row,
    words: row.changes
      .map(({ field, from, to }) => `${FIELD_WORDS[field] ?? field} ${from ?? 'none'} becomes ${to ?? 'none'}`)
      .join(', '),
  }));
  const cancelled = report.cancellations.slice(0, ROWS_SHOWN).map((row) => ({
    row,
    words: `${REASONS[row.reason]}, ${row.cancelled} of ${row.asked} were open`,
  }));
  return (
    <>
      <ChangeList title="Changed since" rows={changed} total={report.rows.amended} />
      <ChangeList title="Cancelled" rows={cancelled} total={report.rows.cancelled} />
    </>
  );
}

function ChangeList(props: {
  title: string;
  rows: readonly { row: { number: string; code: string; line: number }; words: string }[];
  total: number;
}): JSX.Element {
  const { title, rows, total } = props;
  if (rows.length === 0) return <></>;
  return (
    <section>
      <h2 safe>{title}</h2>
      <ul>
        {rows.map(({ row, words }) => (
          <li safe>{`Order ${row.number}, ${row.code} (line ${row.line}): ${words}`}</li>
        ))}
      </ul>
      <More total={total} shown={rows.length} word="row" />
    </section>
  );
}

function More({ total, shown, word }: { total: number; shown: number; word: string }): JSX.Element {
  if (total <= shown) return <></>;
  return <p class="hint" safe>{`And ${count(total - shown, `more ${word}`)}.`}</p>;
}
