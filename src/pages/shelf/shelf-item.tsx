import type { Measure } from '../../kernel/measure/quantity.js';
import { longDay } from '../../ui/dates.js';
import type { ShelfItem, ShelfLot } from '../../planning/shelf.service.js';
import { type Fault, FaultNote, fieldsOf, type Sent, TextField } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { LotAxis } from './lot-axis.js';
import { LotMark } from './elsewhere/lot-mark.js';
import { DATE_WORDS, FAMILY_WORDS } from './elsewhere/shelf-words.js';
import { amountText, moneyText } from '../../ui/amounts.js';
import { FormKey } from '../../ui/form-key.js';

interface ItemViewProps {
  shelf: ShelfItem;
  suppliers: readonly { code: string; name: string }[];
  currency: string;
  /** What was sent and refused. */
  sent?: Sent;
  fault?: Fault;
}

/** One item: its lots by their last day, what comes, and the form that takes more in. */
export function ItemView(props: ItemViewProps): JSX.Element {
  const { shelf, currency } = props;
  const { item, lots, totals, today } = shelf;
  const amount = (quantity: number): string => amountText(quantity, item.measure);
  return (
    <Page title={item.name} at="/shelf">
      <h1 safe>{item.name}</h1>
      <p class="hint" safe>
        {`${item.code}, ${FAMILY_WORDS[item.family].toLowerCase()}`}
      </p>
      <dl class="facts">
        <dt>On hand</dt>
        <dd safe>{`${amount(totals.onHand)}, worth ${moneyText(totals.valueE4, currency)}`}</dd>
        <dt>Set aside</dt>
        <dd safe>{amount(totals.reserved)}</dd>
        <dt>Free</dt>
        <dd safe>{amount(totals.free)}</dd>
        {item.target > 0 && (
          <>
            <dt>Should lie here</dt>
            <dd safe>{amount(item.target)}</dd>
          </>
        )}
      </dl>
      <nav class="row no-print" aria-label="About this item">
        {item.kind === 'material' ? (
          <>
            <a class="button" href="/reorder">
              What to reorder
            </a>
            {item.stocked && (
              <a class="button" href={`/reorder/items/${item.code}`}>
                How fast it goes
              </a>
            )}
          </>
        ) : (
          <a class="button" href={`/formulas/${item.code}`}>
            How it is made
          </a>
        )}
        <a class="button" href="#receive">
          Take more in
        </a>
      </nav>
      <h2>Lots by their last day</h2>
      {lots.length === 0 ? (
        <p class="note none">None is on the shelf.</p>
      ) : (
        <Lots {...{ lots, today, measure: item.measure }} />
      )}
      {totals.lots > lots.length && (
        <p class="note" safe>{`Of ${totals.lots} lots, the ${lots.length} that are to be used first are shown.`}</p>
      )}
      <Coming coming={shelf.coming} measure={item.measure} />
      {item.stocked ? <ReceiveForm {...props} /> : <p class="note">It is always there, so it is not kept in lots.</p>}
    </Page>
  );
}

function Lots(props: { lots: readonly ShelfLot[]; today: string; measure: Measure }): JSX.Element {
  const { lots, today, measure } = props;
  return (
    <>
      <LotAxis lots={lots} measure={measure} today={today} />
      <table class="stack dense">
        <thead>
          <tr>
            <th>Lot</th>
            <th class="num">On hand</th>
            <th class="num">Set aside</th>
            <th>Last day</th>
            <th>Lies in</th>
            <th>State</th>
          </tr>
        </thead>
        <tbody>
          {lots.map((lot) => (
            <tr>
              <th scope="row">
                <a href={`/shelf/lots/${encodeURIComponent(lot.code)}`} safe>
                  {lot.code}
                </a>
              </th>
              <td class="num" data-label="On hand" safe>
                {amountText(lot.onHand, measure)}
              </td>
              <td class="num" data-label="Set aside" safe>
                {amountText(lot.reserved, measure)}
              </td>
              <td data-label="Last day" safe>
                {lot.expiresOn === null ? 'does not expire' : longDay(lot.expiresOn)}
              </td>
              <td data-label="Lies in" safe>
                {lot.place === '' ? 'no place said' : lot.place}
              </td>
              <td data-label="State">
                <LotMark status={lot.status} expiresOn={lot.expiresOn} today={today} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function Coming({ coming, measure }: { coming: ShelfItem['coming']; measure: Measure }): JSX.Element {
  if (coming.length === 0) return <></>;
  return (
    <>
      <h2>On the way</h2>
      <table class="stack dense">
        <thead>
          <tr>
            <th>From</th>
            <th>Day</th>
            <th class="num">How much</th>
            <th class="num">Promised already</th>
          </tr>
        </thead>
        <tbody>
          {coming.map((row) => (
            <tr>
              <th scope="row" safe>{`${row.by === 'delivery' ? 'Delivery' : 'Batch'} ${row.code}`}</th>
              <td data-label="Day" safe>
                {longDay(row.day)}
              </td>
              <td class="num" data-label="How much" safe>
                {amountText(row.quantity, measure)}
              </td>
              <td class="num" data-label="Promised already" safe>
                {amountText(row.promised, measure)}
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function ReceiveForm({ shelf, suppliers, currency, sent = {}, fault }: ItemViewProps): JSX.Element {
  const { item, today } = shelf;
  const field = fieldsOf('receive', { sent, fault });
  const life =
    item.shelfLifeDays === null
      ? 'It does not expire unless you say so.'
      : `Left empty: ${item.shelfLifeDays} days after it came.`;
  return (
    <section id="receive">
      <h2>Take more in</h2>
      <form method="post" action={`/shelf/items/${item.code}/receive`}>
        <FormKey />
        <FaultNote fault={fault} />
        <div class="fields">
          <TextField
            {...field('quantity')}
            label="How much"
            required
            inputmode={item.measure === 'counted' ? 'numeric' : undefined}
            hint={item.measure === 'weighed' ? 'In grams, or with a unit: 1.2 kg, 16 oz' : 'Pieces, or 3 dozen'}
          />
          <TextField
            {...field('costE4')}
            label={`What all of it cost, in ${currency}`}
            inputmode="decimal"
            hint="Such as 38.50"
          />
          <TextField {...field('receivedOn')} value={sent['receivedOn'] ?? today} type="date" label="It came on" />
          <TextField {...field('expiresOn')} type="date" label={DATE_WORDS[item.lotDateKind]} hint={life} />
          <TextField {...field('place')} label="Lies in" hint="Such as scent cupboard" maxlength={120} />
          <TextField {...field('supplier')} label="Supplier" list="receive-suppliers" maxlength={40} />
          <TextField {...field('supplierLot')} label="Supplier's lot" maxlength={120} />
          <TextField {...field('certificate')} label="Certificate" hint="Where it lies, or its number" />
          <TextField {...field('code')} label="Lot code of your own" hint="Left empty, one is made" maxlength={40} />
          <TextField {...field('reason')} label="Why" hint="Such as opening count" />
        </div>
        <datalist id="receive-suppliers">
          {suppliers.map(({ code, name }) => (
            <option value={code} safe>
              {name}
            </option>
          ))}
        </datalist>
        {item.shelfLifeDays !== null && (
          <p>
            <input
              type="checkbox"
              id="receive-never"
              name="neverExpires"
              value="yes"
              checked={sent['neverExpires'] === 'yes'}
            />{' '}
            <label class="inline" for="receive-never">
              This lot does not expire
            </label>
          </p>
        )}
        <p>
          <button type="submit" class="main">
            Take it in
          </button>
        </p>
      </form>
    </section>
  );
}
