import type { AllergensView, ItemLabelView, LabelView } from '../../labels/labels.schema.js';
import type { BenchRules } from '../../checks/checks.schema.js';
import type { LabelSheet } from '../../labels/label-sheets.js';
import { ChoiceField, type Fault, FaultNote, LinesField, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';

export const LABELS_SAID = ['stated', 'allergens'] as const;
export type LabelForm = 'print' | 'stated' | 'allergens';

export interface LabelProps {
  label: LabelView;
  stated: ItemLabelView;
  sheets: readonly LabelSheet[];
  rules: BenchRules;
  /** Of each material in it. */
  allergens: readonly { item: string; name: string; known: AllergensView['allergens'] }[];
  said?: (typeof LABELS_SAID)[number];
  /** The batch whose weights wait for what the label states. */
  from?: string;
  refused?: { form: LabelForm; sent: Sent; fault: Fault };
}

const SAID = {
  stated: 'What the label states is written down.',
  allergens: 'The allergens are written down.',
};

export const labelsAddress = (lot: string): string => `/labels/${encodeURIComponent(lot)}`;

/** The label of one lot: what it says, what is missing on it, and how it is printed. */
export function LabelPage(props: LabelProps): JSX.Element {
  const { label, said, from } = props;
  return (
    <Page title={`Labels of lot ${label.lot}`} at="/pick">
      <h1 safe>{`Labels of lot ${label.lot}`}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {SAID[said]}
        </p>
      )}
      {from !== undefined && (
        <p>
          <a href={`/batches/${encodeURIComponent(from)}/checks`} safe>{`Back to the checks of batch ${from}`}</a>
        </p>
      )}
      <p class="note care" safe>
        {label.notice}
      </p>
      <Preview label={label} />
      <h2>Print</h2>
      <Print {...props} />
      <h2>What it says</h2>
      <Stated {...props} />
      {props.allergens.map((material) => (
        <Allergens {...props} material={material} />
      ))}
      <p>
        <a href="/bench/settings#rules">By which rules labels are written</a>, and{' '}
        <a href="/bench/settings#sheets">on which sheets they are printed</a>
      </p>
    </Page>
  );
}

function Preview({ label }: { label: LabelView }): JSX.Element {
  const lot = encodeURIComponent(label.lot);
  return (
    <section class="card label" aria-label="The label">
      <div>
        <p>
          <strong safe>{label.name}</strong>
        </p>
        {label.net !== null && (
          <p>
            <strong safe>{label.net}</strong>
          </p>
        )}
        <p safe>{[`Lot ${label.lot}`, ...label.dates].join('. ')}</p>
        {label.ingredients.length > 0 && (
          <p safe>{`Ingredients: ${label.ingredients.map(({ name }) => name).join(', ')}`}</p>
        )}
        {label.allergens.length > 0 && <p safe>{`Contains: ${label.allergens.map(({ name }) => name).join(', ')}`}</p>}
        {label.cautions.map((caution) => (
          <p safe>{caution}</p>
        ))}
        <p safe>{label.maker}</p>
        {label.open.length > 0 && (
          <div class="note care">
            <ul>
              {label.open.map((text) => (
                <li safe>{text}</li>
              ))}
            </ul>
          </div>
        )}
      </div>
      <div>
        <img class="code" src={`/api/lots/${lot}/qr.svg`} alt={`QR code that leads to the page of lot ${label.lot}`} />
        <img class="code" src={`/api/lots/${lot}/code128.svg`} alt={`Lot ${label.lot} as bars`} />
      </div>
    </section>
  );
}

type FieldOf = (
  name: string,
  value?: string,
  pointer?: string,
) => {
  name: string;
  form: string;
  value?: string;
  fault?: Fault;
  pointer?: string;
};

function fieldOf({ refused }: LabelProps, form: LabelForm, id: string = form): FieldOf {
  const mine = refused?.form === form && (refused.sent['id'] ?? id) === id ? refused : undefined;
  return (name, value, pointer) => ({
    name,
    form: id,
    value: mine ? mine.sent[name] : value,
    fault: mine?.fault,
    pointer,
  });
}

const faultOfForm = ({ refused }: LabelProps, form: LabelForm): Fault | undefined =>
  refused?.form === form ? refused.fault : undefined;

function Print(props: LabelProps): JSX.Element {
  const { label, sheets } = props;
  const field = fieldOf(props, 'print');
  const choices = [
    ...sheets.map(({ code, name }) => [code, name] as const),
    ['single', 'One label to a page, of the size below'] as const,
  ];
  return (
    <form method="get" action={`${labelsAddress(label.lot)}/labels.pdf`}>
      <FaultNote fault={faultOfForm(props, 'print')} />
      <div class="fields">
        <ChoiceField {...field('sheet', undefined, 'query/sheet')} label="Sheet" choices={choices} />
        <TextField {...field('copies', '24', 'query/copies')} label="How many" inputmode="numeric" />
        <TextField
          {...field('skip', '0', 'query/skip')}
          label="Places used up on the first sheet"
          inputmode="numeric"
        />
        <TextField {...field('width', '70', 'query/width')} label="Width of a single one, mm" inputmode="decimal" />
        <TextField {...field('height', '37', 'query/height')} label="Height of a single one, mm" inputmode="decimal" />
        <ChoiceField
          {...field('bars')}
          label="Lot code as bars too"
          choices={[
            ['no', 'No'],
            ['yes', 'Yes'],
          ]}
        />
      </div>
      <p>
        <button type="submit" class="main">
          Make the PDF
        </button>
      </p>
      <p class="hint">
        Print at full size, 100 %. Measure your sheet before the first one; one that is not here is added in{' '}
        <a href="/bench/settings#sheets">the settings of the bench</a>.
      </p>
    </form>
  );
}

const thousandths = (amount: number | null, unit: string): string =>
  amount === null ? '' : `${amount / 1000} ${unit}`;

function Stated(props: LabelProps): JSX.Element {
  const { label, stated, from } = props;
  const field = fieldOf(props, 'stated');
  const unit = stated.netUl === null ? 'g' : 'ml';
  return (
    <details id="stated" open={props.refused?.form === 'stated' || (from !== undefined && props.said === undefined)}>
      <summary safe>{`What the labels of ${label.item} state`}</summary>
      <form method="post" action={`${labelsAddress(label.lot)}/stated`}>
        <FormKey />
        {from !== undefined && <input type="hidden" name="from" value={from} />}
        <FaultNote fault={faultOfForm(props, 'stated')} />
        <TextField {...field('printedName', stated.printedName)} label="Name on the label" hint="Empty: its own name" />
        <TextField
          {...field('net', thousandths(stated.netMg ?? stated.netUl, unit))}
          label="Contents"
          hint="A weight or a volume: 220 g, 100 ml"
        />
        <TextField
          {...field('allowedShort', thousandths(stated.allowedShort, unit))}
          label="One may be short by"
          hint="Only where you looked it up yourself; it stands in place of the table"
        />
        <TextField
          {...field('openedMonths', stated.openedMonths === null ? '' : String(stated.openedMonths))}
          label="Good for so many months once opened"
          inputmode="numeric"
        />
        <ChoiceField
          {...field('contact', stated.contact)}
          label="Allergens are named"
          choices={[
            ['none', 'not'],
            ['leave-on', 'as for what stays on the skin'],
            ['rinse-off', 'as for what is rinsed off'],
          ]}
        />
        <LinesField {...field('cautions', stated.cautions.join('\n'))} label="Further cautions, each on a line" />
        <TextField {...field('maker', stated.maker)} label="Who made it, and where" maxlength={300} />
        <p>
          <button type="submit">Write it down</button>
        </p>
      </form>
    </details>
  );
}

function Allergens(props: LabelProps & { material: LabelProps['allergens'][number] }): JSX.Element {
  const { label, material, rules } = props;
  const { item, name, known } = material;
  const isRefused = props.refused?.form === 'allergens' && props.refused.sent['id'] === item;
  const field = fieldOf(props, 'allergens', item);
  const text = known.map((one) => `${one.name} ${one.partPpb / 10_000_000} %`).join('\n');
  return (
    <details open={isRefused}>
      <summary>
        <span safe>{`Allergens in ${name}`}</span>{' '}
        {known.length > 0 ? (
          <span class="hint" safe>{`${known.length} known`}</span>
        ) : (
          <span class="mark care">not known</span>
        )}
      </summary>
      <form method="post" action={`${labelsAddress(label.lot)}/allergens`}>
        <FormKey />
        <input type="hidden" name="id" value={item} />
        <FaultNote fault={isRefused ? props.refused?.fault : undefined} />
        <LinesField
          {...field('allergens', text)}
          label="Each on a line, with its part of the material: Limonene 0.12 %"
        />
        <TextField {...field('source', known[0]?.source ?? '')} label="Where the figures stand" required />
        <TextField {...field('dated', known[0]?.dated ?? '')} type="date" label="Of which day" required />
        <p class="hint" safe>
          {`Named where there is more than ${rules.leaveOnPpb / 10_000_000} % in what stays on, ${rules.rinseOffPpb / 10_000_000} % in what is rinsed off. Source: ${rules.allergenSource}.`}
        </p>
        <p>
          <button type="submit">Write it down</button>
        </p>
      </form>
    </details>
  );
}
