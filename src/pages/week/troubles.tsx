import type { Week } from '../../planning/week.service.js';
import { REASONS, count, fullText, waitsText } from '../../ui/words.js';
import { whoMay } from '../../people/who-may.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { lineAddress, whyLateAddress } from '../../ui/addresses.js';
import { amountText } from '../../ui/amounts.js';
import { partsText, waitText } from '../../ui/sends.js';
import { UrgentMark } from '../orders/elsewhere/urgent-mark.js';

/** Lines shown before the rest is only counted; all of them are on the orders page. */
const LATE_MAX = 40;

/** What is seen of a kind of trouble before the rest is asked for. */
const SEEN_FIRST = 3;

/** What stands in the week's way: what has no room in the plan, what has no day, what is short, who waits longer than promised, two in one vessel, what is about to expire. */
export function Troubles({ week }: { week: Week }): JSX.Element {
  return (
    <>
      {!!week.full && <Full full={week.full} />}
      {week.dayless.length > 0 && <Dayless week={week} />}
      {week.shortfalls.length > 0 && <Short week={week} />}
      {week.late.length > 0 && <Late week={week} />}
      {week.vesselConflicts.length > 0 && <TwoInOne week={week} />}
      {week.atRisk.length > 0 && <Expiring week={week} />}
    </>
  );
}

function Full({ full }: { full: NonNullable<Week['full']> }): JSX.Element {
  return (
    <section>
      <h2>More than one plan holds</h2>
      <p safe>{fullText(full.batchesMost, full.lines)}</p>
      {full.refills.length > 0 && (
        <ul>
          {full.refills.slice(0, LATE_MAX).map((row) => (
            <li safe>{`${row.name}: ${amountText(row.quantity, row.measure)} less than should be in stock`}</li>
          ))}
          {full.refills.length > LATE_MAX && <li>and {full.refills.length - LATE_MAX} more</li>}
        </ul>
      )}
    </section>
  );
}

function Dayless({ week }: { week: Week }): JSX.Element {
  const shown = week.dayless.slice(0, LATE_MAX);
  return (
    <section>
      <h2>No day for it</h2>
      <ul>
        {shown.map(({ key, name, measure, output, heldUpBy, skill }) => (
          <li>
            <a href={`/why/batch/${week.draft!.id}/${encodeURIComponent(key)}`} safe>
              {`${amountText(output, measure)} of ${name}`}
            </a>
            <span safe>{`: ${waitsText(heldUpBy ?? 'no-vessel', whoMay(week.people, skill))}`}</span>
          </li>
        ))}
        {week.dayless.length > shown.length && <li>and {week.dayless.length - shown.length} more</li>}
      </ul>
    </section>
  );
}

function Short({ week }: { week: Week }): JSX.Element {
  return (
    <section>
      <h2>Short</h2>
      <FirstSeen rows={week.shortfalls} what="short" draw={(rows) => <ShortCards week={week} rows={rows} />} />
    </section>
  );
}

/** The first of a kind of trouble; the rest, up to `most`, stands in a fold that says how many more there are. */
function FirstSeen<Row>(props: {
  rows: readonly Row[];
  most?: number;
  what: string;
  draw: (rows: Row[]) => JSX.Element;
}): JSX.Element {
  const { rows, most, what, draw } = props;
  return (
    <>
      {draw(rows.slice(0, SEEN_FIRST))}
      {rows.length > SEEN_FIRST && (
        <details>
          <summary safe>{`${rows.length - SEEN_FIRST} more ${what}`}</summary>
          {draw(rows.slice(SEEN_FIRST, most))}
        </details>
      )}
    </>
  );
}

function ShortCards({ week, rows }: { week: Week; rows: Week['shortfalls'] }): JSX.Element {
  return (
    <div class="cards">
      {rows.map((row) => (
        <div class="card">
          <h3>
            <a href={`/shelf/items/${row.item}`} safe>
              {row.name}
            </a>
          </h3>
          <p>
            <a href={`/why/short/${week.draft!.id}/${row.item}`} safe>
              {`${amountText(row.quantity, row.measure)} short on ${shortDay(row.needOn)}`}
            </a>
          </p>
          <p>
            <span class={row.tooLate ? 'mark bad' : 'mark care'}>
              {row.orderBy
                ? `order by ${shortDay(row.orderBy)}${row.tooLate ? ', which is past' : ''}`
                : 'nobody sells it'}
            </span>
          </p>
        </div>
      ))}
    </div>
  );
}

function TwoInOne({ week }: { week: Week }): JSX.Element {
  return (
    <section>
      <h2>Two in one vessel</h2>
      <ul>
        {week.vesselConflicts.map(({ vessel, first, other, from, to }) => (
          <li class="fault" safe>
            {`${vessel} holds ${first} and ${other}, ${from === to ? `on ${shortDay(from)}` : `${shortDay(from)} to ${shortDay(to)}`}.`}
          </li>
        ))}
      </ul>
    </section>
  );
}

function Late({ week }: { week: Week }): JSX.Element {
  return (
    <section>
      <h2>Late or not covered</h2>
      <FirstSeen
        rows={week.late}
        most={LATE_MAX}
        what="late or not covered"
        draw={(lines) => <LateLines lines={lines} />}
      />
      {week.late.length > LATE_MAX && (
        <p>
          <a href="/orders?only=late">and {week.late.length - LATE_MAX} more</a>
        </p>
      )}
    </section>
  );
}

function LateLines({ lines }: { lines: Week['late'] }): JSX.Element {
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>Order line</th>
          <th>Ship by</th>
          <th>Ready</th>
          <th>Why</th>
        </tr>
      </thead>
      <tbody>
        {lines.map((line) => (
          <tr>
            <th scope="row">
              <a href={lineAddress(line.key)} safe>
                {line.name}
              </a>{' '}
              {line.isUrgent && <UrgentMark />}
              <div class="hint" safe>
                {line.key}
              </div>
            </th>
            <td data-label="Ship by" safe>
              {shortDay(line.shipBy)}
            </td>
            <td data-label="Ready">
              <a href={lineAddress(line.key)} safe>
                {readyText(line)}
              </a>
            </td>
            <td data-label="Why">
              <a href={whyLateAddress(line.key)} safe>
                {line.waitsFor ? waitText(line.waitsFor) : REASONS[line.because ?? 'short']}
              </a>
            </td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function readyText(line: Week['late'][number]): string {
  if (line.parts && line.parts.length > 0) return partsText(line.parts, line);
  return line.readyOn
    ? `${shortDay(line.readyOn)}, ${count(line.lateDays, 'day')} late`
    : `${line.missing} of ${line.quantity} not covered`;
}

function Expiring({ week }: { week: Week }): JSX.Element {
  return (
    <section>
      <h2>About to expire</h2>
      <div class="cards">
        {week.atRisk.map((row) => (
          <div class="card">
            <h3>
              <a href={`/shelf/lots/${row.lot}`} safe>{`${row.name}, lot ${row.lot}`}</a>
            </h3>
            <p safe>{`Last day ${longDay(row.expiresOn)}`}</p>
            <p safe>
              {row.left === null
                ? `${amountText(row.freeAfterPlan, row.measure)} free; past use unknown`
                : `${amountText(row.freeAfterPlan, row.measure)} free after this plan, less usual use until then: ${amountText(row.left, row.measure)} likely left`}
            </p>
          </div>
        ))}
      </div>
    </section>
  );
}
