import type { PackView, SupplierView } from '../../purchasing/purchasing.schema.js';
import { type Fault, FaultNote, type Sent, TextField, Tick } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { moneyField } from './purchase-words.js';
import { WEEKDAYS } from '../../ui/dates.js';

export const NEW_SUPPLIER = 'new-supplier';
export const SUPPLIERS_SAID = ['supplier', 'pack'] as const;
const SAID = {
  supplier: 'The supplier is written down.',
  pack: 'The pack is written down. What is on order keeps the price it was ordered at.',
};

/** Id of the form of a pack, or of a new one. */
export const packForm = (supplier: string, pack = ''): string =>
  `pack-${supplier}-${pack}`.replace(/[^A-Za-z0-9-]/g, '_');

export interface SuppliersProps {
  suppliers: readonly SupplierView[];
  packs: readonly PackView[];
  said?: (typeof SUPPLIERS_SAID)[number];
  refused?: { form: string; sent: Sent; fault: Fault };
}

export function SuppliersView(props: SuppliersProps): JSX.Element {
  const { suppliers, packs, said } = props;
  return (
    <Page title="Suppliers" at="/reorder">
      <h1>Suppliers</h1>
      <p>
        <a href="/reorder">Back to what to reorder</a>
      </p>
      {!!said && (
        <p class="note" role="status" safe>
          {SAID[said]}
        </p>
      )}
      {suppliers.length === 0 && <p class="note none">None yet. Who sells what decides when it has to be ordered.</p>}
      {suppliers.map((supplier) => (
        <section id={supplier.code}>
          <h2 safe>{supplier.name}</h2>
          <Terms {...props} supplier={supplier} />
          <Packs {...props} supplier={supplier.code} packs={packs.filter((pack) => pack.supplier === supplier.code)} />
        </section>
      ))}
      <h2>Another one</h2>
      <Terms {...props} />
    </Page>
  );
}

function formOf({ refused }: SuppliersProps, form: string) {
  const mine = refused?.form === form ? refused : undefined;
  const field = (name: string, now: string) => ({
    name,
    form,
    value: mine ? mine.sent[name] : now,
    fault: mine?.fault,
  });
  return { mine, field };
}

function Terms(props: SuppliersProps & { supplier?: SupplierView }): JSX.Element {
  const { supplier } = props;
  const { mine, field } = formOf(props, supplier?.code ?? NEW_SUPPLIER);
  const money = (valueE4: number | null | undefined) => (valueE4 ? moneyField(valueE4) : '');
  const isOn = (at: number) =>
    mine ? mine.sent[`orderDays/${at}`] === 'yes' : (supplier?.orderDays.includes(at) ?? false);
  return (
    <details open={mine !== undefined}>
      <summary>{supplier ? 'Terms and address' : 'Add a supplier'}</summary>
      <form method="post" action={supplier ? `/suppliers/${encodeURIComponent(supplier.code)}` : '/suppliers'}>
        <FormKey />
        <FaultNote fault={mine?.fault} />
        <div class="fields">
          {!supplier && <TextField {...field('code', '')} label="A short code for them" required maxlength={40} />}
          <TextField {...field('name', supplier?.name ?? '')} label="Name" required maxlength={200} />
          <TextField {...field('email', supplier?.email ?? '')} label="Email that orders go to" maxlength={254} />
          <TextField {...field('account', supplier?.account ?? '')} label="Our number with them" maxlength={120} />
          <TextField {...field('address', supplier?.address ?? '')} label="Address" />
          <TextField
            {...field('minimumOrderE4', money(supplier?.minimumOrderE4))}
            label="Least worth of an order"
            inputmode="decimal"
          />
          <TextField
            {...field('freightE4', money(supplier?.freightE4))}
            label="What a parcel costs"
            inputmode="decimal"
          />
          <TextField
            {...field('freightFreeFromE4', money(supplier?.freightFreeFromE4))}
            label="Free from this worth on"
            hint="Empty: never"
            inputmode="decimal"
          />
        </div>
        <fieldset>
          <legend>Days on which they take orders; none ticked: any day</legend>
          <div class="fields days">
            {WEEKDAYS.map((day, at) => (
              <Tick name={`orderDays/${at}`} words={day} isOn={isOn(at)} />
            ))}
          </div>
        </fieldset>
        <p>
          <button type="submit">{supplier ? 'Write the terms down' : 'Add the supplier'}</button>
        </p>
      </form>
    </details>
  );
}

function Packs(props: SuppliersProps & { supplier: string }): JSX.Element {
  const { packs, supplier, refused } = props;
  const forms = [packForm(supplier), ...packs.map(({ code }) => packForm(supplier, code))];
  return (
    <details open={refused !== undefined && forms.includes(refused.form)}>
      <summary safe>{`Packs (${packs.length})`}</summary>
      {packs.map((pack) => (
        <Pack {...props} supplier={supplier} pack={pack} />
      ))}
      <Pack {...props} supplier={supplier} />
    </details>
  );
}

function Pack(props: SuppliersProps & { supplier: string; pack?: PackView }): JSX.Element {
  const { supplier, pack } = props;
  const { mine, field } = formOf(props, packForm(supplier, pack?.code));
  const path = `/suppliers/${encodeURIComponent(supplier)}/packs`;
  return (
    <details open={mine !== undefined}>
      <summary>
        {pack ? <span safe>{`Pack ${pack.code}`}</span> : 'Add a pack'}{' '}
        {!!pack && (
          <span class="hint" safe>
            {`${pack.item}, ${moneyField(pack.priceE4)} each, ${pack.leadDays} days${pack.withdrawn ? ', no longer sold' : ''}`}
          </span>
        )}
      </summary>
      <form method="post" action={pack ? `${path}/${encodeURIComponent(pack.code)}` : path}>
        <FormKey />
        <FaultNote fault={mine?.fault} />
        <div class="fields">
          {!pack && (
            <>
              <TextField {...field('item', '')} label="Code of the material" required maxlength={40} />
              <TextField {...field('code', '')} label="Their code of the pack" required maxlength={80} />
              <TextField {...field('size', '')} label="What is in one" hint="4 oz, 5 kg, or pieces: 48" required />
            </>
          )}
          <TextField
            {...field('priceE4', pack ? moneyField(pack.priceE4) : '')}
            label="Price of one pack"
            inputmode="decimal"
            required
          />
          <TextField
            {...field('leadDays', pack ? String(pack.leadDays) : '')}
            label="Days from ordering until it arrives"
            inputmode="numeric"
            required
          />
          <TextField
            {...field('leastPacks', String(pack?.leastPacks ?? 1))}
            label="Least number of packs"
            inputmode="numeric"
          />
        </div>
        {!!pack && (
          <Tick
            name="withdrawn"
            words="It is no longer sold"
            isOn={mine ? mine.sent['withdrawn'] === 'yes' : pack.withdrawn}
          />
        )}
        <p>
          <button type="submit">{pack ? 'Write the pack down' : 'Add the pack'}</button>
        </p>
      </form>
    </details>
  );
}
