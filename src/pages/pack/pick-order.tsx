import type { ReadyDays } from '../../planning/coverage.service.js';
import { longDay, shortDay } from '../../ui/dates.js';
import type { Pick as Picked, PickLine, PickOrder } from '../../shipping/pick.schema.js';
import { faultAt, type Fault, FaultNote, type Sent, tiesOf } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { UrgentMark } from '../orders/elsewhere/urgent-mark.js';
import { isKeptBack, lackText, restText, ShipBy } from './pick-list.js';
import { orderAddress, pickAddress } from '../../ui/addresses.js';

interface PickOrderProps {
  order: PickOrder & { on: string };
  days: ReadyDays;
  refused?: { sent: Sent; fault: Fault };
}

/** One parcel: what goes in, of which lots, to be scanned or typed where another lot is taken. */
export function PickOrderView({ order, days, refused }: PickOrderProps): JSX.Element {
  const { number, channel, customer, urgent, shipBy, notices, on } = order;
  return (
    <Page title={`Pack ${number}`} at="/pick">
      <h1 safe>{`Pack ${number}`}</h1>
      <p>
        <span safe>{`${customer ?? 'no name'}, ${channel}`}</span>, <ShipBy shipBy={shipBy} today={on} />{' '}
        {urgent && <UrgentMark />}
      </p>
      {notices.map((notice) => (
        <p class="note care" safe>
          {notice}
        </p>
      ))}
      {isKeptBack(order) ? <KeptBack order={order} days={days} /> : <Parcel order={order} refused={refused} />}
      <p>
        <a href="/pick">Back to what has to go</a>
      </p>
    </Page>
  );
}

/** Why nothing of an order can be packed that goes all at once, and how a part of it could. */
function KeptBack({ order, days }: Pick<PickOrderProps, 'order' | 'days'>): JSX.Element {
  return (
    <div class="note care">
      <p safe>{`This order goes all at once, and waits for ${restText(order, days, order.on)}.`}</p>
      <p>
        To send what is there now, say on <a href={orderAddress(order)} safe>{`the page of order ${order.number}`}</a>{' '}
        that it goes in parts, or each line when it is ready.
      </p>
    </div>
  );
}

function Parcel({ order, refused }: Omit<PickOrderProps, 'days'>): JSX.Element {
  const { number, channel, lines, sentAs, on } = order;
  return (
    <form method="post" action={pickAddress(order)} data-keeps={`pick/${channel}/${number}`}>
      <FormKey />
      <FaultNote fault={refused?.fault} />
      {lines.map((line, at) => (
        <LineForm {...{ line, at, refused, sentAs, on }} />
      ))}
      <p>
        <button type="submit" class="main">
          It is packed and sent
        </button>
      </p>
      <p class="hint">What is left empty stays to be sent. Each piece leaves its lot as this is written down.</p>
    </form>
  );
}

function LineForm({
  line,
  at,
  refused,
  sentAs,
  on,
}: { line: PickLine; at: number } & Pick<PickOrderProps, 'refused'> & Pick<PickOrderProps['order'], 'sentAs' | 'on'>) {
  const { name, item, open, owedDays, packs, picks, short, notBefore } = line;
  const isLater = notBefore !== null && notBefore > on;
  const facts = [
    `${open} to send`,
    owedDays > 0 ? `good for ${owedDays} days more` : '',
    isLater ? `not before ${shortDay(notBefore)}` : '',
    lackText(short, sentAs),
  ].filter((fact) => fact !== '');
  return (
    <fieldset>
      <legend safe>{name}</legend>
      <p class="hint" safe>
        {`${item}: ${facts.join(', ')}`}
      </p>
      <input type="hidden" name={`lines/${at}/code`} value={line.code} />
      <input type="hidden" name={`lines/${at}/occurrence`} value={String(line.occurrence)} />
      {[...picks, null].map((pick, n) => (
        <LotRow
          id={`lines/${at}/lots/${n}`}
          pick={isLater && pick ? { ...pick, quantity: 0 } : pick}
          refused={refused}
        />
      ))}
      {!!packs && <Packs packs={packs} at={at} refused={refused} isLater={isLater} />}
    </fieldset>
  );
}

/** A set that nobody has put together yet: how many now, and of what. */
function Packs(props: {
  packs: NonNullable<PickLine['packs']>;
  at: number;
  isLater: boolean;
  refused: PickOrderProps['refused'];
}) {
  const { packs, at, refused, isLater } = props;
  const name = `lines/${at}/sets`;
  return (
    <>
      <p>
        <label for={name}>Put together now, of the parts below</label>
        <input
          id={name}
          name={name}
          inputmode="numeric"
          autocomplete="off"
          value={refused ? (refused.sent[name] ?? '') : isLater ? '' : String(packs.quantity)}
        />
      </p>
      {packs.parts.map((part, n) => (
        <LotRow id={`lines/${at}/parts/${n}`} pick={part} refused={refused} />
      ))}
    </>
  );
}

/** One lot with its pieces; without a proposal, room for another lot than was meant. */
function LotRow({ id, pick, refused }: { id: string; pick: Picked | null; refused: PickOrderProps['refused'] }) {
  const value = (field: string, proposed: string) => refused?.sent[`${id}/${field}`] ?? proposed;
  const place = pick ? [pick.item, pick.place, pick.expiresOn ? `good until ${longDay(pick.expiresOn)}` : ''] : [];
  const where = place.filter((part) => part !== '').join(', ');
  const field = (name: string) => ({ name: `${id}/${name}`, form: 'pick', label: '', fault: refused?.fault });
  const said = ['lot', 'quantity'].map((name) => faultAt(field(name))).find((fault) => fault !== undefined);
  return (
    <>
      {where !== '' && (
        <div class="hint" safe>
          {where}
        </div>
      )}
      <div class="parcel">
        <div>
          <label for={`pick-${id}/lot`}>{pick ? 'Lot' : 'Another lot'}</label>
          <input
            id={`pick-${id}/lot`}
            name={`${id}/lot`}
            value={value('lot', pick?.lot ?? '')}
            maxlength="80"
            autocomplete="off"
            {...tiesOf(field('lot'), `pick-${id}/lot`)}
          />
        </div>
        <div>
          <label for={`pick-${id}/quantity`}>Pieces</label>
          <input
            id={`pick-${id}/quantity`}
            name={`${id}/quantity`}
            value={value('quantity', pick && pick.quantity > 0 ? String(pick.quantity) : '')}
            inputmode="numeric"
            autocomplete="off"
            {...tiesOf(field('quantity'), `pick-${id}/quantity`)}
          />
        </div>
      </div>
      {!!said && (
        <div class="fault" id={`pick-${id}/lot-fault`} safe>
          {said}
        </div>
      )}
    </>
  );
}
