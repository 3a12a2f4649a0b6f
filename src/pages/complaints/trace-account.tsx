import { shortDay } from '../../ui/dates.js';
import type { LotAccount } from '../../trace/account.schema.js';
import type { TracedLot } from '../../trace/trace.schema.js';
import { percent } from '../../trace/recall-pdf.js';
import { LotMark } from '../shelf/elsewhere/lot-mark.js';
import { exactText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

/** Every lot with where it came from, and where all of it is by the book, by counts and by what recipients say. */
export function LotAccounts(props: {
  lots: readonly TracedLot[];
  accounts: readonly LotAccount[];
  today: string;
}): JSX.Element {
  const { lots, accounts, today } = props;
  const byLot = new Map(accounts.map((lot) => [lot.lot, lot]));
  const unexplained = accounts.filter((lot) => lot.unexplained !== 0 || lot.bookDifference !== 0).length;
  return (
    <>
      <h2 id="lots">Lots, and where all of each is</h2>
      <table class="stack">
        <caption>
          By counts of the shelf and what recipients answered; what only the book says is not confirmed.
        </caption>
        <thead>
          <tr>
            <th>Lot</th>
            <th>What it is</th>
            <th>From</th>
            <th>Where all of it is</th>
            <th class="num">Reconciled</th>
          </tr>
        </thead>
        <tbody>
          {lots.map((lot) => {
            const of = byLot.get(lot.code);
            return (
              <tr>
                <th scope="row">
                  <a href={`/trace/${encodeURIComponent(lot.code)}`} safe>
                    {lot.code}
                  </a>{' '}
                  <LotMark status={lot.status} expiresOn={lot.expiresOn} today={today} />
                </th>
                <td data-label="What it is">
                  <a href={`/shelf/items/${lot.item}`} safe>
                    {lot.name}
                  </a>
                </td>
                <td data-label="From" safe>
                  {originOf(lot)}
                </td>
                <td data-label="Where all of it is">
                  {of ? accountText(of) : ''} {!!of && <Unexplained lot={of} />}
                </td>
                <td class="num" data-label="Reconciled">
                  {of ? percent(of.reconciledPpb) : ''}
                </td>
              </tr>
            );
          })}
        </tbody>
      </table>
      {unexplained > 0 && (
        <p class="note care" safe>
          {`Of ${count(unexplained, 'lot')} something is unexplained: it stands with the lot.`}
        </p>
      )}
    </>
  );
}

function originOf({ supplier, supplierLot, certificate, parentLot, cameOn }: TracedLot): string {
  const parts = [
    supplier === null ? '' : `${supplier}${supplierLot === '' ? '' : ` lot ${supplierLot}`}`,
    certificate === '' ? '' : `certificate ${certificate}`,
    parentLot === null ? '' : `part of ${parentLot}`,
    shortDay(cameOn),
  ];
  return parts.filter((part) => part !== '').join(', ');
}

/** All that is not nothing, first what came in. */
function accountText(lot: LotAccount): string {
  const amount = (quantity: number) => exactText(quantity, lot.measure);
  const parts: [string, number][] = [
    ['received', lot.received],
    ['made', lot.made],
    ['came back', lot.returned],
    ['split from another', lot.splitFrom],
    ['found at counts', lot.found],
    ['on the shelf', lot.onShelf],
    ['of it set aside', lot.reserved],
    ['in batches', lot.usedInBatches],
    ['used otherwise', lot.usedElsewhere],
    ['shipped', lot.shipped],
    ['samples', lot.sampled],
    ['scrapped', lot.scrapped],
    ['back to the supplier', lot.sentToSupplier],
    ['split off', lot.splitOff],
    ['lost at counts', lot.lost],
    ['not confirmed', lot.unconfirmed],
  ];
  const said = parts.filter(([, quantity]) => quantity > 0).map(([what, quantity]) => `${what} ${amount(quantity)}`);
  return said.join(', ');
}

function Unexplained({ lot }: { lot: LotAccount }): JSX.Element {
  return (
    <>
      {lot.unexplained !== 0 && (
        <span class="mark bad" safe>
          {`unexplained: ${exactText(Math.abs(lot.unexplained), lot.measure)} too ${lot.unexplained > 0 ? 'much' : 'little'}`}
        </span>
      )}
      {lot.bookDifference !== 0 && <span class="mark bad">the book itself does not add up</span>}
    </>
  );
}
