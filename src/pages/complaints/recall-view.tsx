import { longDay, momentText, shortDay } from '../../ui/dates.js';
import type { RecallListView, RecallPage as Recalls, RecallView as Recall } from '../../trace/recall.schema.js';
import { percent } from '../../trace/recall-pdf.js';
import type { LotStatus } from '../../stock/stock.entity.js';
import type { Refused } from './complaint-view.js';
import { FaultNote } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { Answering, Closing, Holding } from './recall-acts.js';
import { STATUS_WORDS } from '../shelf/elsewhere/shelf-words.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';
import type { RecallSaid, RecallProps } from './recall-props.js';

const SAID: Record<RecallSaid, string> = {
  held: 'Everything affected is on hold. What it took from the plan and from orders stands in the timeline.',
  lifted: 'What this recall held may be used again, as it was before.',
  written: 'It is written down who was written to.',
  answered: 'The answer is written down.',
  noted: 'It is written down.',
  closed: 'The recall is closed.',
  reopened: 'The recall is open again.',
  wider: 'Looked again: what came of it since is in the scope.',
};

export function RecallList({ recalls, refused }: { recalls: Recalls['recalls']; refused?: Refused }): JSX.Element {
  return (
    <Page title="Recalls and drills" at="/complaints">
      <h1>Recalls and drills</h1>
      {recalls.length === 0 ? (
        <p>
          Nothing was recalled yet. A recall is opened from the <a href="/complaints">trace of a lot</a>.
        </p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Recall or drill</th>
              <th>Lot</th>
              <th>Opened</th>
              <th>State</th>
              <th class="num">Reconciled</th>
              <th class="num">Took</th>
            </tr>
          </thead>
          <tbody>
            {recalls.map(({ code, isDrill, lot, openedOn, status, result }) => (
              <tr>
                <th scope="row">
                  <a href={`/recalls/${code}`} safe>
                    {code}
                  </a>
                </th>
                <td data-label="Lot" safe>
                  {lot}
                </td>
                <td data-label="Opened" safe>
                  {shortDay(openedOn)}
                </td>
                <td data-label="State">{isDrill ? 'drill' : status}</td>
                <td class="num" data-label="Reconciled">
                  {result ? percent(result.reconciledPpb) : ''}
                </td>
                <td class="num" data-label="Took">
                  {result && isDrill ? `${result.tookMs} ms` : ''}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      <section class="no-print">
        <h2>Practise</h2>
        <p>
          A drill draws a lot, follows it both ways, lists who got it and accounts for all of it. It is timed and kept.
          It holds nothing and writes to nobody.
        </p>
        <form method="post" action="/recalls/drill">
          <FormKey />
          <FaultNote fault={refused?.fault} />
          <button type="submit" class="main">
            Begin a drill
          </button>
        </form>
      </section>
    </Page>
  );
}

export function RecallPaper({ recall, list, effects, mails, said, refused }: RecallProps): JSX.Element {
  const isOpen = recall.status === 'open' && !recall.isDrill;
  return (
    <Page title={`${recall.isDrill ? 'Drill' : 'Recall'} ${recall.code}`} at="/complaints">
      <h1 safe>{`${recall.isDrill ? 'Drill' : 'Recall'} ${recall.code}`}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {SAID[said]}
        </p>
      )}
      <Facts recall={recall} />
      <nav class="row no-print" aria-label="Papers">
        <a class="button" href={`/api/recalls/${recall.code}/report.pdf`}>
          Report (PDF)
        </a>
        <a class="button" href={`/api/recalls/${recall.code}/letters.pdf`}>
          Letters still to write (PDF)
        </a>
        <a class="button" href={`/api/recalls/${recall.code}/letters.pdf?only=all`}>
          All letters (PDF)
        </a>
        <a class="button" href="/recalls/letter">
          Words of the letter
        </a>
        <a class="button" href={`/trace/${encodeURIComponent(recall.lot)}`}>
          Trace of its lot
        </a>
      </nav>
      {isOpen && <Holding recall={recall} effects={effects} refused={refused} />}
      <Scope recall={recall} />
      <Recipients list={list} mails={mails} />
      {isOpen && <Answering recall={recall} list={list} refused={refused} />}
      <Timeline recall={recall} />
      <Closing recall={recall} refused={refused} />
    </Page>
  );
}

function Facts({ recall }: { recall: Recall }): JSX.Element {
  return (
    <dl class="facts">
      <dt>Suspected lot</dt>
      <dd>
        <a href={`/trace/${encodeURIComponent(recall.lot)}`} safe>
          {recall.lot}
        </a>
      </dd>
      <dt>Why</dt>
      <dd safe>{recall.why}</dd>
      <dt>Opened</dt>
      <dd safe>{`${longDay(recall.openedOn)} by ${recall.openedBy}, ${recall.status}`}</dd>
      <dt>Complaints</dt>
      <dd>
        {recall.complaints.length === 0 ? 'none' : ''}
        {recall.complaints.map((code) => (
          <>
            <a href={`/complaints/${code}`} safe>
              {code}
            </a>{' '}
          </>
        ))}
      </dd>
      <dt>Recipients</dt>
      <dd safe>
        {`${recall.recipients}: ${recall.written} written to, ${recall.answered} answered; of ${count(recall.sent, 'piece')} ${recall.accountedFor} accounted for, ${recall.returned} back`}
      </dd>
      {!!recall.result && (
        <>
          <dt>Reconciled</dt>
          <dd safe>
            {`${percent(recall.result.reconciledPpb)} of ${count(recall.result.lots, 'lot')}, ${count(recall.result.customers, 'customer')}, ${count(recall.result.parcels, 'parcel')}${recall.isDrill ? `; found in ${recall.result.traceMs} ms, all in ${recall.result.tookMs} ms` : ''}`}
          </dd>
        </>
      )}
    </dl>
  );
}

function Scope({ recall }: { recall: Recall }): JSX.Element {
  return (
    <>
      <h2 safe>{`Scope: ${count(recall.scope.length, 'lot')}`}</h2>
      <table class="stack dense">
        <thead>
          <tr>
            <th>Lot</th>
            <th>What it is</th>
            <th>State</th>
            <th class="num">On the shelf</th>
          </tr>
        </thead>
        <tbody>
          {recall.scope.map(({ code, name, status, onHand, measure, isHeldByThis }) => (
            <tr>
              <th scope="row">
                <a href={`/trace/${encodeURIComponent(code)}`} safe>
                  {code}
                </a>
              </th>
              <td data-label="What it is" safe>
                {name}
              </td>
              <td data-label="State" safe>
                {`${STATUS_WORDS[status as LotStatus]}${isHeldByThis ? ' by this recall' : ''}`}
              </td>
              <td class="num" data-label="On the shelf" safe>
                {amountText(onHand, measure)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function Recipients({ list, mails }: Pick<RecallProps, 'list' | 'mails'>): JSX.Element {
  return (
    <>
      <h2 safe>{`Recall list: ${count(list.recipients.length, 'recipient')}`}</h2>
      {list.recipients.length === 0 ? (
        <p>Nothing of it was sent to anybody.</p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Customer</th>
              <th>Reach them</th>
              <th>Order</th>
              <th>What they got</th>
              <th>Written to</th>
              <th>Answer</th>
            </tr>
          </thead>
          <tbody>
            {list.recipients.map(({ order, customer, contact, parcels, writtenOn, answers, isAnswered, returned }) => (
              <tr>
                <th scope="row" safe>
                  {customer ?? 'not named'}
                </th>
                <td data-label="Reach them" safe>
                  {contact === '' ? 'not written down' : contact}
                </td>
                <td data-label="Order">
                  <a href={`/orders/${order.split('/').map(encodeURIComponent).join('/')}`} safe>
                    {order}
                  </a>
                </td>
                <td data-label="What they got" safe>
                  {parcels
                    .map(({ quantity, lot, shippedOn }) => `${quantity} of lot ${lot}, ${shortDay(shippedOn)}`)
                    .join('; ')}
                </td>
                <td data-label="Written to">
                  <span safe>{writtenOn === null ? 'not yet' : shortDay(writtenOn)}</span>{' '}
                  {mails.has(order) && (
                    <a class="no-print" href={mails.get(order)}>
                      write by email
                    </a>
                  )}
                </td>
                <td data-label="Answer" safe>
                  {answerText(answers, isAnswered, returned)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}

function answerText(
  answers: RecallListView['recipients'][number]['answers'],
  isAnswered: boolean,
  returned: number,
): string {
  const said = answers.map(
    ({ lot, received, used, kept, destroyed, sentBack }) =>
      `lot ${lot}: got ${received}, used ${used}, kept ${kept}, destroyed ${destroyed}, sent back ${sentBack}`,
  );
  if (!isAnswered) said.push(said.length > 0 ? 'not of every lot' : 'none yet');
  if (returned > 0) said.push(`${returned} came back`);
  return said.join('; ');
}

function Timeline({ recall }: { recall: Recall }): JSX.Element {
  return (
    <>
      <h2>Timeline</h2>
      <ol>
        {recall.entries.map(({ at, by, kind, text }) => (
          <li safe>{`${momentText(at)}, ${by}, ${kind}: ${text}`}</li>
        ))}
      </ol>
    </>
  );
}
