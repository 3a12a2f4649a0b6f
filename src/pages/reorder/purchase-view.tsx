import { shortDay } from '../../ui/dates.js';
import type { PurchaseOrderView } from '../../purchasing/purchase-orders.schema.js';
import { FaultNote, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { FreedNote } from '../shelf/elsewhere/freed.js';
import { Page } from '../../ui/layout.js';
import { PurchaseConfirm } from './purchase-confirm.js';
import { PurchaseDraft } from './purchase-draft.js';
import { PurchaseDeliveries } from './purchase-receive.js';
import { LetterNote, OrderFiles, PURCHASE_SAID, sentWords, StatusMark } from './purchase-words.js';
import { amountText, moneyText } from '../../ui/amounts.js';
import type { PurchaseViewProps } from './purchase-props.js';

/** One purchase order, with what can be done with it now. */
export function PurchaseView(props: PurchaseViewProps): JSX.Element {
  const { order, currency, said, freed, refused } = props;
  const isOpen = order.status !== 'received' && order.status !== 'cancelled';
  return (
    <Page title={`Order ${order.code}`} at="/reorder">
      <p class="no-print">
        <a href="/purchase-orders">Purchase orders</a>
      </p>
      <h1 safe>{`${order.code} to ${order.supplierName}`}</h1>
      {said !== undefined && (
        <p class="note good" role="status">
          {PURCHASE_SAID[said]}
        </p>
      )}
      <FreedNote freed={freed} />
      {!!refused && <FaultNote fault={refused.fault} />}
      <p>
        <StatusMark status={order.status} /> <span safe>{factsOf(order)}</span>
      </p>
      <LetterNote order={order} />
      <PriceChanges order={order} currency={currency} />
      {order.status === 'draft' ? <PurchaseDraft {...props} /> : <Lines order={order} currency={currency} />}
      {order.status !== 'draft' && <OrderFiles code={order.code} />}
      {order.status === 'sent' && <PurchaseConfirm {...props} />}
      {order.deliveries.length > 0 && <PurchaseDeliveries {...props} />}
      {isOpen && <Cancel {...props} />}
    </Page>
  );
}

function factsOf(order: PurchaseOrderView): string {
  const { reference, createdOn, createdBy, status } = order;
  const told = [
    `Written ${shortDay(createdOn)} by ${createdBy}`,
    ...sentWords(order),
    ...(reference === '' ? [] : [`their number ${reference}`]),
  ];
  return `${told.join(', ')}${status === 'draft' ? '; nothing of it counts as coming yet' : ''}.`;
}

/** Where what was asked for, what is confirmed and what is known of a pack differ. */
function PriceChanges({ order, currency }: { order: PurchaseOrderView; currency: string }): JSX.Element {
  const money = (valueE4: number): string => moneyText(valueE4, currency);
  const changes = order.lines.flatMap((line) => {
    if (line.confirmedPriceE4 !== null && line.confirmedPriceE4 !== line.priceE4)
      return [
        `${line.pack}: confirmed at ${money(line.confirmedPriceE4)}, asked for at ${money(line.priceE4)}${line.priceNowE4 === line.confirmedPriceE4 ? '; kept for the next orders' : ''}.`,
      ];
    if (line.confirmedPriceE4 === null && line.priceNowE4 !== line.priceE4)
      return [`${line.pack}: ${money(line.priceE4)} here, ${money(line.priceNowE4)} by what is known of the pack now.`];
    return [];
  });
  if (changes.length === 0) return <></>;
  return (
    <div class="note care">
      <p>
        <strong>Prices differ:</strong>
      </p>
      <ul>
        {changes.map((change) => (
          <li safe>{change}</li>
        ))}
      </ul>
    </div>
  );
}

function Lines({ order, currency }: { order: PurchaseOrderView; currency: string }): JSX.Element {
  const isConfirmed = order.lines.some(({ confirmedPacks }) => confirmedPacks !== null);
  const price = isConfirmed ? 'With freight' : 'Price';
  return (
    <table class="stack dense">
      <thead>
        <tr>
          <th>Pack</th>
          <th>What</th>
          <th class="num">Packs</th>
          <th class="num">Price each</th>
          <th class="num">{price}</th>
          {isConfirmed && <th class="num">Here</th>}
          {isConfirmed && <th class="num">To come</th>}
        </tr>
      </thead>
      <tbody>
        {order.lines.map((line) => (
          <tr>
            <th scope="row" safe>
              {line.pack}
            </th>
            <td data-label="What">
              <a href={`/shelf/items/${line.item}`} safe>
                {line.name}
              </a>
            </td>
            <td class="num" data-label="Packs" safe>
              {packsText(line)}
            </td>
            <td class="num" data-label="Price each" safe>
              {moneyText(line.confirmedPriceE4 ?? line.priceE4, currency)}
            </td>
            <td class="num" data-label={price} safe>
              {isConfirmed && line.landedE4 === null ? '–' : moneyText(worthE4(line), currency)}
            </td>
            {isConfirmed && <Came line={line} />}
          </tr>
        ))}
      </tbody>
      <Together order={order} currency={currency} isConfirmed={isConfirmed} />
    </table>
  );
}

type Line = PurchaseOrderView['lines'][number];

const packsText = ({ confirmedPacks, packs }: Line): string =>
  confirmedPacks === null || confirmedPacks === packs ? String(packs) : `${confirmedPacks} of ${packs}`;

/** What is confirmed of it with its freight; until then, what was asked for. */
const worthE4 = ({ confirmedPacks, landedE4, packs, priceE4 }: Line): number =>
  confirmedPacks === null ? packs * priceE4 : (landedE4 ?? 0);

function Came({ line }: { line: Line }): JSX.Element {
  return (
    <>
      <td class="num" data-label="Here" safe>
        {amountText(line.received, line.measure)}
      </td>
      <td class="num" data-label="To come" safe>
        {amountText(line.toCome, line.measure)}
      </td>
    </>
  );
}

function Together(props: { order: PurchaseOrderView; currency: string; isConfirmed: boolean }): JSX.Element {
  const { order, currency, isConfirmed } = props;
  const worth = order.lines.reduce((sum, line) => sum + worthE4(line), isConfirmed ? 0 : order.freightE4);
  return (
    <tfoot>
      <tr>
        <th scope="row" colspan="4" safe>
          {`Together, with ${moneyText(order.freightE4, currency)} freight`}
        </th>
        <td class="num">
          <strong safe>{moneyText(worth, currency)}</strong>
        </td>
        {isConfirmed && <td colspan="2"></td>}
      </tr>
    </tfoot>
  );
}

function Cancel({ order, refused }: PurchaseViewProps): JSX.Element {
  const mine = refused?.form === 'cancel' ? refused : undefined;
  return (
    <div class="folds no-print">
      <details open={mine !== undefined}>
        <summary>{order.status === 'draft' ? 'Throw the draft away' : 'Give up what has not come'}</summary>
        <form method="post" action={`/purchase-orders/${order.code}/cancel`}>
          <FormKey />
          <TextField form="cancel" name="why" label="Why" value={mine?.sent['why']} fault={mine?.fault} required />
          <p>
            <button type="submit">Give it up</button>
          </p>
        </form>
      </details>
    </div>
  );
}
