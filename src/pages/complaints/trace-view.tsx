import { shortDay } from '../../ui/dates.js';
import type { LotAccount } from '../../trace/account.schema.js';
import type { SharesView, TraceView as Trace } from '../../trace/trace.schema.js';
import { FaultNote, type Fault, type Sent } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { GenealogyGraph } from './genealogy-graph.js';
import { Page } from '../../ui/layout.js';
import { LongField } from '../../ui/long-field.js';
import { LotMark } from '../shelf/elsewhere/lot-mark.js';
import { LotAccounts } from './trace-account.js';
import { exactText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

const PARCELS_SHOWN = 200;
const LINKS_SHOWN = 1000;

const WAYS = [
  ['both', 'both ways'],
  ['back', 'to its sources'],
  ['forward', 'to customers'],
] as const;

export interface TraceProps {
  trace: Trace;
  accounts: readonly LotAccount[];
  shares: SharesView;
  today: string;
  /** Codes with commas between. */
  complaints?: string;
  refused?: { sent: Sent; fault: Fault };
}

/** Where one lot came from, where it went, and whether all of it is accounted for. */
export function TraceOfLot({ trace, accounts, shares, today, complaints, refused }: TraceProps): JSX.Element {
  const address = `/trace/${encodeURIComponent(trace.lot)}`;
  return (
    <Page title={`Trace of lot ${trace.lot}`} at="/complaints">
      <h1 safe>{`Trace of lot ${trace.lot}`}</h1>
      <StartLot trace={trace} today={today} />
      <nav class="row no-print" aria-label="Ways">
        {WAYS.map(([way, words]) => (
          <a
            class="button"
            href={`${address}?direction=${way}`}
            aria-current={way === trace.direction ? 'page' : undefined}
          >
            {words}
          </a>
        ))}
        <a class="button" href={`/complaints?lot=${encodeURIComponent(trace.lot)}#new`}>
          a complaint about it
        </a>
      </nav>
      {!trace.isWhole && <p class="note bad">This genealogy is larger than one page holds, and cut off here.</p>}
      <GenealogyGraph trace={trace} />
      <Links trace={trace} />
      <LotAccounts lots={trace.lots} accounts={accounts} today={today} />
      <Sources trace={trace} />
      <Parcels trace={trace} />
      <Shares shares={shares} />
      <OpenRecall address={address} complaints={refused?.sent['complaints'] ?? complaints ?? ''} refused={refused} />
    </Page>
  );
}

function StartLot({ trace, today }: Pick<TraceProps, 'trace' | 'today'>): JSX.Element {
  const start = trace.lots.find(({ code }) => code === trace.lot);
  if (!start) return <></>;
  return (
    <p>
      <a href={`/shelf/lots/${encodeURIComponent(start.code)}`} safe>
        {start.name}
      </a>{' '}
      <LotMark status={start.status} expiresOn={start.expiresOn} today={today} />{' '}
      <a class="no-print" href={`/api/trace/lots/${encodeURIComponent(start.code)}/epcis`}>
        Its events as EPCIS 2.0 (JSON)
      </a>
    </p>
  );
}

/** `lot 26041-001` of the key `lot:26041-001`. */
const wordsOf = (key: string): string => key.replace(':', ' ');

/** What the lines of the picture say, one by one, for whoever reads rather than looks. */
function Links({ trace }: Pick<TraceProps, 'trace'>): JSX.Element {
  const measures = new Map(trace.lots.map(({ code, measure }) => [`lot:${code}`, measure]));
  if (trace.links.length === 0) return <></>;
  return (
    <details>
      <summary safe>{`The picture as a table: ${count(trace.links.length, 'line')}`}</summary>
      <table class="stack dense">
        <thead>
          <tr>
            <th>From</th>
            <th>How</th>
            <th class="num">How much</th>
            <th>To</th>
          </tr>
        </thead>
        <tbody>
          {trace.links.slice(0, LINKS_SHOWN).map(({ from, to, kind, quantity }) => (
            <tr>
              <th scope="row" safe>
                {wordsOf(from)}
              </th>
              <td data-label="How">{kind}</td>
              <td class="num" data-label="How much" safe>
                {exactText(quantity, measures.get(from) ?? measures.get(to) ?? 'counted')}
              </td>
              <td data-label="To" safe>
                {wordsOf(to)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      {trace.links.length > LINKS_SHOWN && (
        <p class="hint">{`The first ${LINKS_SHOWN}; the lots and parcels below are all of them.`}</p>
      )}
    </details>
  );
}

function Sources({ trace }: { trace: Trace }): JSX.Element {
  if (trace.deliveries.length === 0 && trace.batches.length === 0) return <></>;
  return (
    <>
      <h2 id="sources">Deliveries and batches</h2>
      <ul>
        {trace.deliveries.map(({ code, supplier, lot, receivedOn }) => (
          <li safe>{`Delivery ${code} of ${supplier}, ${shortDay(receivedOn)}: lot ${lot}`}</li>
        ))}
        {trace.batches.map(({ code, item, day, vessel, status, isRework }) => (
          <li>
            <a href={`/bench/${encodeURIComponent(code)}`} safe>
              {code}
            </a>{' '}
            <span safe>
              {`${item}, ${shortDay(day)}${vessel === null ? '' : `, in ${vessel}`}, ${status}${isRework ? ', mends a rejected lot' : ''}`}
            </span>
          </li>
        ))}
      </ul>
    </>
  );
}

function Parcels({ trace }: { trace: Trace }): JSX.Element {
  if (trace.direction === 'back') return <></>;
  const shown = trace.parcels.slice(0, PARCELS_SHOWN);
  return (
    <>
      <h2 id="parcels" safe>{`Who got some of it: ${count(trace.parcels.length, 'parcel')}`}</h2>
      {trace.parcels.length === 0 ? (
        <p>Nothing of it was sent to anybody.</p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Order</th>
              <th>Customer</th>
              <th>Lot</th>
              <th>Sent</th>
              <th class="num">Pieces</th>
            </tr>
          </thead>
          <tbody>
            {shown.map(({ channel, number, customer, lot, shippedOn, quantity, returned }) => (
              <tr>
                <th scope="row">
                  <a href={`/orders/${encodeURIComponent(channel)}/${encodeURIComponent(number)}`} safe>
                    {number}
                  </a>
                </th>
                <td data-label="Customer" safe>
                  {customer ?? ''}
                </td>
                <td data-label="Lot" safe>
                  {lot}
                </td>
                <td data-label="Sent" safe>
                  {shortDay(shippedOn)}
                </td>
                <td class="num" data-label="Pieces" safe>
                  {returned > 0 ? `${quantity}, ${returned} back` : String(quantity)}
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
      {trace.parcels.length > shown.length && (
        <p class="hint" safe>{`The first ${shown.length}; a recall lists all of them.`}</p>
      )}
    </>
  );
}

const BY_WORDS: Record<SharesView['shares'][number]['by'], string> = {
  delivery: 'Came with',
  material: 'Made of',
  vessel: 'From the vessel',
  day: 'Poured on',
  person: 'Made by',
};

function Shares({ shares }: { shares: SharesView }): JSX.Element {
  if (shares.shares.length === 0) return <></>;
  return (
    <>
      <h2>What else shares something with it</h2>
      {shares.shares.map(({ by, what, name, count: many, lots }) => (
        <details>
          <summary
            safe
          >{`${BY_WORDS[by]} ${what}${name === '' ? '' : ` (${name})`}: ${count(many, 'other lot')}`}</summary>
          <ul>
            {lots.map(({ code, item }) => (
              <li>
                <a href={`/trace/${encodeURIComponent(code)}`} safe>
                  {code}
                </a>{' '}
                <span safe>{item}</span>
              </li>
            ))}
          </ul>
        </details>
      ))}
    </>
  );
}

function OpenRecall({
  address,
  complaints,
  refused,
}: {
  address: string;
  complaints: string;
  refused?: { sent: Sent; fault: Fault };
}): JSX.Element {
  return (
    <section class="no-print">
      <h2>Recall it</h2>
      <form method="post" action={`${address}/recall`}>
        <FormKey />
        <input type="hidden" name="complaints" value={complaints} />
        {complaints !== '' && <p safe>{`Because of ${complaints.split(',').join(', ')}.`}</p>}
        <FaultNote fault={refused?.fault} />
        <LongField
          name="why"
          form="recall"
          label="Why it is suspected"
          value={refused?.sent['why']}
          fault={refused?.fault}
          required
          maxlength={2000}
        />
        <p>
          <button type="submit">Open a recall</button>
        </p>
        <p class="hint">Opening one holds nothing yet: it first shows what holding would do.</p>
      </form>
    </section>
  );
}
