import { placeInWords } from '../../platform/plain-words.js';
import type { ItemView } from '../../catalog/items.schema.js';
import type { WorkshopView } from '../../catalog/workshop.schema.js';
import { printQuantity } from '../../kernel/measure/quantity.js';
import { ChoiceField, type Fault, FaultNote, fieldsOf, TextField, tiesOf } from '../../ui/form.js';
import type { FormState } from './tried.js';
import { WEEKDAYS } from '../../ui/dates.js';
import { FormKey } from '../../ui/form-key.js';
import { PlanTermsFields } from './plan-terms-fields.js';
import { CodesList } from '../../ui/codes-list.js';

/** How the workshop works: its name, zone, money, hours and scale. */
export function SettingsForm(props: { settings: WorkshopView; isNamed: boolean; state: FormState }): JSX.Element {
  const { settings, isNamed, state } = props;
  const { sent, fault } = state;
  const field = { form: 'settings', fault };
  const value = (name: string, now: string | number): string => sent?.[name] ?? String(now);
  return (
    <form method="post" action="/start/settings">
      <FormKey />
      <FaultNote fault={fault} />
      <div class="fields">
        <TextField
          {...field}
          name="name"
          label="Name"
          value={value('name', isNamed ? settings.name : '')}
          maxlength={200}
          required
        />
        <TextField
          {...field}
          name="currency"
          label="Money"
          hint="Three capitals, such as EUR or USD"
          value={value('currency', settings.currency)}
          maxlength={3}
          required
        />
        <TextField
          {...field}
          name="timeZone"
          label="Time zone"
          hint="Such as Europe/Lisbon. It decides when a day begins"
          value={value('timeZone', settings.timeZone)}
          list="zones"
          maxlength={64}
          required
        />
        <ChoiceField
          {...field}
          name="units"
          label="Weights are read in"
          value={value('units', settings.units)}
          choices={[
            ['metric', 'grams and kilograms'],
            ['us', 'grams, with ounces and pounds beside'],
          ]}
        />
        <datalist id="zones">
          {Intl.supportedValuesOf('timeZone').map((zone) => (
            <option value={zone}></option>
          ))}
        </datalist>
      </div>
      <BenchHours field={field} value={value} now={settings} />
      <ScaleAndDays field={field} value={value} now={settings} />
      <BenchRules field={field} value={value} now={settings} />
      <PlanTermsFields field={field} value={value} now={settings} />
      <p>
        <button type="submit" class="main">
          Keep this
        </button>
      </p>
    </form>
  );
}

interface PartProps {
  field: { form: string; fault: Fault | undefined };
  /** What was typed, else what holds now. */
  value: (name: string, now: string | number) => string;
  now: WorkshopView;
}

function BenchHours({ field, value, now }: PartProps): JSX.Element {
  return (
    <fieldset>
      <legend>Minutes at the bench, 0 where it is closed</legend>
      <p class="hint">
        They count as long as nobody is said to work here. <a href="/start/people">Who works here, and when</a>
      </p>
      <div class="fields days">
        {WEEKDAYS.map((day, at) => (
          <TextField
            {...field}
            name={`benchMinutes/${at}`}
            label={day}
            inputmode="numeric"
            maxlength={4}
            value={value(`benchMinutes/${at}`, now.benchMinutes[at] ?? 0)}
          />
        ))}
      </div>
    </fieldset>
  );
}

function ScaleAndDays({ field, value, now }: PartProps): JSX.Element {
  return (
    <div class="fields">
      <TextField
        {...field}
        name="scaleStep"
        label="Your scale shows steps of"
        value={value('scaleStep', printQuantity(now.scaleStep, 'weighed'))}
        maxlength={40}
      />
      <TextField
        {...field}
        name="scaleLeast"
        label="The least it weighs well"
        value={value('scaleLeast', printQuantity(now.scaleLeast, 'weighed'))}
        maxlength={40}
      />
      <TextField
        {...field}
        name="slackDays"
        label="Days to spare before ship-by"
        inputmode="numeric"
        maxlength={2}
        value={value('slackDays', now.slackDays)}
      />
      <TextField
        {...field}
        name="receivingDays"
        label="Days from arrival until a delivery may be used"
        inputmode="numeric"
        maxlength={2}
        value={value('receivingDays', now.receivingDays)}
      />
    </div>
  );
}

/** Parts per billion as a person writes percent. */
const percentOf = (ppb: number): string => String(ppb / 10_000_000);

function BenchRules({ field, value, now }: PartProps): JSX.Element {
  return (
    <fieldset>
      <legend>What counts at the bench</legend>
      <div class="fields">
        <TextField
          {...field}
          name="labourRate"
          label="An hour of work costs"
          hint="Blank: work is not part of what a lot costs"
          inputmode="decimal"
          maxlength={20}
          value={value('labourRate', now.labourRateE4 === null ? '' : now.labourRateE4 / 10_000)}
        />
        <TextField
          {...field}
          name="weighTolerance"
          pointer="weighTolerancePpb"
          label="A weight is right within, %"
          inputmode="decimal"
          maxlength={12}
          value={value('weighTolerance', percentOf(now.weighTolerancePpb))}
        />
        <TextField
          {...field}
          name="lossTolerance"
          pointer="lossTolerancePpb"
          label="A loss needs no reason within, %"
          hint="Of what was put in, beside what the formula expects"
          inputmode="decimal"
          maxlength={12}
          value={value('lossTolerance', percentOf(now.lossTolerancePpb))}
        />
        <ChoiceField
          {...field}
          name="bestBefore"
          label="What is made keeps"
          value={value('bestBefore', now.bestBeforeOfMaterials ? 'materials' : 'own')}
          choices={[
            ['own', 'as long as its own shelf life'],
            ['materials', 'no longer than the first of its materials'],
          ]}
        />
      </div>
    </fieldset>
  );
}

/** Items, pasted from a spreadsheet. */
export function ItemsForm({ state }: { state: FormState }): JSX.Element {
  const { sent, fault } = state;
  const field = { form: 'items', name: 'text', label: 'Rows', fault, hint: 'yes' };
  const faults = Object.entries(fault?.fields ?? {}).map(([place, detail]) => {
    const [, line, column] = place.split('/');
    return line === undefined
      ? detail
      : `Line ${line}, ${column === undefined ? 'row' : placeInWords(column)}: ${detail}`;
  });
  return (
    <form method="post" action="/start/items">
      <FormKey />
      <FaultNote fault={fault && { ...fault, isOfFields: false }} />
      {faults.length > 0 && (
        <ul class="fault" id="items-text-fault">
          {faults.map((words) => (
            <li safe>{words}</li>
          ))}
        </ul>
      )}
      <label for="items-text">Copy the rows out of a spreadsheet and paste them here</label>
      <textarea
        id="items-text"
        name="text"
        spellcheck="false"
        {...tiesOf(
          faults.length > 0 ? { ...field, fault: { detail: '', fields: { text: 'yes' } } } : field,
          'items-text',
        )}
        safe
      >
        {sent?.['text'] ?? ''}
      </textarea>
      <div class="hint" id="items-text-hint">
        <p>
          In this order, or any under a header: code, name, weighed or counted, density in g/ml, family, days it keeps,
          kind. Only code and name must be there. A row without a kind is a material; what you make is a bulk, a product
          or a set.
        </p>
        <pre tabindex="0" aria-label="Examples of rows">
          {'ALCOHOL\tAlcohol base\tweighed\t0.81\tbase\nFO-FIG\tFig fragrance\tweighed\t0.96\tfragrance\t540\n' +
            'BOTTLE-100\tBottle 100 ml\tcounted\t\tcontainer\nBLK-FIG\tFig spray, bulk\tweighed\t\tspray\t\tbulk\n' +
            'SP-FIG-100\tFig spray 100 ml\tcounted\t\tspray\t\tproduct'}
        </pre>
      </div>
      <p>
        <button type="submit" class="main">
          Add these
        </button>
      </p>
    </form>
  );
}

/** One lot that lies on the shelf already. */
export function LotForm({ items, state }: { items: readonly ItemView[]; state: FormState }): JSX.Element {
  const { fault } = state;
  const field = fieldsOf('lot', state);
  return (
    <form method="post" action="/start/lot">
      <FormKey />
      <p>
        A lot is what came at once and stands in one place. Its last day matters: what expires first is used first. More
        of them are taken in on <a href="/shelf">the shelf</a>.
      </p>
      <FaultNote fault={fault} />
      <div class="fields">
        <TextField {...field('item')} label="Of what" list="items-known" maxlength={40} />
        <TextField {...field('quantity')} label="How much" hint="Such as 2.5 kg, 16 fl oz, or 48" maxlength={40} />
        <TextField {...field('expiresOn')} label="Last day" hint="Blank: from how long the item keeps" type="date" />
      </div>
      <CodesList id="items-known" items={items} />
      <p>
        <button type="submit" class="main">
          Put it on the shelf
        </button>
      </p>
    </form>
  );
}
