import { dayOfMoment, longDay, shortDay } from '../../ui/dates.js';
import type { LotBook, LotBookEntry } from '../../trace/lot-book.service.js';
import type { Cause, LotStatus } from '../../stock/stock.entity.js';
import { FreedNote } from './elsewhere/freed.js';
import { Page } from '../../ui/layout.js';
import { LotActs } from './lot-acts.js';
import { LotMark } from './elsewhere/lot-mark.js';
import { CAUSE_WORDS, DATE_WORDS, STATUS_WORDS } from './elsewhere/shelf-words.js';
import { exactText, moneyText } from '../../ui/amounts.js';
import { FormKey } from '../../ui/form-key.js';
import type { LotSaid, LotViewProps } from './lot-props.js';

/** One lot. Amounts here are exact, as the ledger keeps them. */
export function LotView(props: LotViewProps): JSX.Element {
  const { book, said } = props;
  const { lot, item } = book;
  return (
    <Page title={`Lot ${lot.code}`} at="/shelf">
      <h1 safe>{`Lot ${lot.code}`}</h1>
      <p>
        <a href={`/shelf/items/${item.code}`} safe>
          {item.name}
        </a>{' '}
        <LotMark status={lot.status} expiresOn={lot.expiresOn} today={book.today} />
      </p>
      <nav class="row no-print" aria-label="More of this lot">
        <a class="button" href={`/trace/${encodeURIComponent(lot.code)}`}>
          Where it came from and went
        </a>
        {item.kind !== 'material' && (
          <a class="button" href={`/labels/${encodeURIComponent(lot.code)}`}>
            Its labels
          </a>
        )}
      </nav>
      <Said book={book} said={said} />
      <FreedNote freed={said.freed} />
      <Facts book={book} currency={props.currency} />
      <SetAside book={book} />
      <h2>What can be done with it</h2>
      <LotActs {...props} />
      <Ledger book={book} page={said.page} currency={props.currency} />
    </Page>
  );
}

function Said({ book, said }: { book: LotBook; said: LotSaid }): JSX.Element {
  if (!said.said) return <></>;
  const { lot, item } = book;
  const difference = said.difference ?? 0;
  const words = {
    received: 'It is taken in.',
    'taken-out': `It is written down: ${exactText(lot.onHand, item.measure)} are left.`,
    counted:
      difference === 0
        ? 'The count agrees with the book.'
        : `Counted: ${exactText(Math.abs(difference), item.measure)} ${difference < 0 ? 'less' : 'more'} than the book had.`,
    decided: `The lot ${lot.status === 'released' ? 'may be used' : `is ${STATUS_WORDS[lot.status]}`}.`,
    split: 'A part is split off and has a lot code of its own.',
    examined: 'Its date is moved.',
    'date-right': 'Its date is put right.',
    'given-back': 'That is free again. The next plan sees the need again.',
  }[said.said];
  return (
    <p class="note" role="status">
      <span safe>{words}</span>{' '}
      {!!said.part && (
        <a href={`/shelf/lots/${encodeURIComponent(said.part)}`} safe>
          {`Lot ${said.part}`}
        </a>
      )}
    </p>
  );
}

function Facts({ book, currency }: { book: LotBook; currency: string }): JSX.Element {
  const { lot, item } = book;
  const amount = (quantity: number): string => exactText(quantity, item.measure);
  const facts: [string, string][] = [
    ['On hand', amount(lot.onHand)],
    ['Set aside', amount(lot.reserved)],
    ['Free', lot.status === 'released' ? amount(lot.free) : `nothing, it is ${STATUS_WORDS[lot.status]}`],
    ['Worth', moneyText(lot.valueE4, currency)],
    [DATE_WORDS[item.lotDateKind], lot.expiresOn === null ? 'does not expire' : longDay(lot.expiresOn)],
    ['Came on', longDay(lot.cameOn)],
    ['Lies in', lot.place],
    ['Supplier', lot.supplier ?? ''],
    ["Supplier's lot", lot.supplierLot],
    ['Certificate', lot.certificate],
    ['Taken in by', lot.createdBy],
  ];
  return (
    <dl class="facts">
      {facts
        .filter(([, value]) => value !== '')
        .map(([name, value]) => (
          <>
            <dt safe>{name}</dt>
            <dd safe>{value}</dd>
          </>
        ))}
      {lot.parentLot !== null && (
        <>
          <dt>Part of</dt>
          <dd>
            <a href={`/shelf/lots/${encodeURIComponent(lot.parentLot)}`} safe>
              {lot.parentLot}
            </a>
          </dd>
        </>
      )}
      {book.children.length !== 0 && (
        <>
          <dt>Parts of it</dt>
          <dd>
            {book.children.map((child) => (
              <div>
                <a href={`/shelf/lots/${encodeURIComponent(child.code)}`} safe>
                  {child.code}
                </a>
                <span safe>{`: ${amount(child.onHand)}${child.place === '' ? '' : `, ${child.place}`}`}</span>
              </div>
            ))}
          </dd>
        </>
      )}
    </dl>
  );
}

function SetAside({ book }: { book: LotBook }): JSX.Element {
  const { lot, item, setAside } = book;
  return (
    <>
      <h2>Set aside for</h2>
      {setAside.length === 0 ? (
        <p>Nobody.</p>
      ) : (
        <table class="stack">
          <thead>
            <tr>
              <th>Whom</th>
              <th class="num">How much</th>
              <th>Needed on</th>
              <th>
                <span class="hint">Change</span>
              </th>
            </tr>
          </thead>
          <tbody>
            {setAside.map((row) => (
              <tr>
                <th scope="row" safe>
                  {row.batch === null ? `Order ${row.order ?? ''}` : `Batch ${row.batch}`}
                </th>
                <td class="num" data-label="How much" safe>
                  {exactText(row.quantity, item.measure)}
                </td>
                <td data-label="Needed on" safe>
                  {longDay(row.needOn)}
                </td>
                <td>
                  <form method="post" action={`/shelf/lots/${encodeURIComponent(lot.code)}/give-back`}>
                    <FormKey />
                    <input type="hidden" name="reservation" value={String(row.id)} />
                    <button
                      type="submit"
                      aria-label={`Give back what is set aside for ${row.batch ?? row.order ?? ''}`}
                    >
                      Give it back
                    </button>
                  </form>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </>
  );
}

function Ledger({ book, page, currency }: { book: LotBook; page: number; currency: string }): JSX.Element {
  const address = `/shelf/lots/${encodeURIComponent(book.lot.code)}`;
  return (
    <section>
      <h2 id="ledger">What happened to it</h2>
      <table class="stack dense">
        <caption>
          The newest first. Nothing here is ever changed: what was wrong is put right by a further entry.
        </caption>
        <thead>
          <tr>
            <th>Day</th>
            <th>What</th>
            <th class="num">How much</th>
            <th class="num">Then on hand</th>
            <th class="num">Value</th>
            <th>By</th>
          </tr>
        </thead>
        <tbody>
          {book.entries.map((entry) => (
            <LedgerRow entry={entry} book={book} currency={currency} />
          ))}
        </tbody>
      </table>
      <nav class="row no-print" aria-label="Pages of the ledger">
        {page > 1 && (
          <a class="button" href={`${address}?page=${page - 1}#ledger`}>
            Newer
          </a>
        )}
        {book.hasOlder && (
          <a class="button" href={`${address}?page=${page + 1}#ledger`}>
            Older
          </a>
        )}
      </nav>
    </section>
  );
}

function LedgerRow({ entry, book, currency }: { entry: LotBookEntry; book: LotBook; currency: string }): JSX.Element {
  const { measure } = book.item;
  const day = entry.doneOn ?? dayOfMoment(entry.at);
  return (
    <tr>
      <th scope="row" safe>
        {longDay(day)}
      </th>
      <td data-label="What">
        <span safe>{whatOf(entry)}</span>
        {entry.otherLot !== null && (
          <>
            {' '}
            <a href={`/shelf/lots/${encodeURIComponent(entry.otherLot)}`} safe>
              {`lot ${entry.otherLot}`}
            </a>
          </>
        )}
        {entry.order !== null && (
          <>
            {' '}
            <a
              href={`/orders/${encodeURIComponent(entry.order.channel)}/${encodeURIComponent(entry.order.number)}`}
              safe
            >{`order ${entry.order.number}`}</a>
          </>
        )}
        {entry.why !== '' && (
          <div class="hint" safe>
            {entry.why}
          </div>
        )}
      </td>
      <td class="num" data-label="How much" safe>
        {entry.quantity === null ? '' : `${entry.quantity > 0 ? '+' : ''}${exactText(entry.quantity, measure)}`}
      </td>
      <td class="num" data-label="Then on hand" safe>
        {entry.balance === null ? '' : exactText(entry.balance, measure)}
      </td>
      <td class="num" data-label="Value" safe>
        {entry.valueE4 === null ? '' : moneyText(entry.valueE4, currency)}
      </td>
      <td data-label="By" safe>
        {entry.by}
      </td>
    </tr>
  );
}

function whatOf(entry: LotBookEntry): string {
  if (entry.kind === 'status')
    return `was ${STATUS_WORDS[entry.from as LotStatus]}, now ${STATUS_WORDS[entry.to as LotStatus]}`;
  if (entry.kind === 'retest' || entry.kind === 'date')
    return `${entry.kind === 'retest' ? 'examined' : 'date put right'}: good until ${entry.to === null ? 'for ever' : shortDay(entry.to)}, before ${entry.from === null ? 'without a date' : shortDay(entry.from)}`;
  return `${CAUSE_WORDS[entry.cause as Cause]}${entry.batch === null ? '' : ` ${entry.batch}`}`;
}
