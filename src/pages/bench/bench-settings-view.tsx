import { FAMILIES } from '../../catalog/item.entity.js';
import type { CheckKind } from '../../checks/check-kinds.js';
import type { BenchRules } from '../../checks/checks.schema.js';
import type { LabelSheet } from '../../labels/label-sheets.js';
import { limitsText } from './check-form.js';
import { ChoiceField, type Fault, FaultNote, LinesField, type Sent, TextField, Tick } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { FAMILY_WORDS } from '../shelf/elsewhere/shelf-words.js';

export const RULES = 'rules';
export const NEW_KIND = 'new-check';
export const NEW_SHEET = 'new-sheet';
export const BENCH_SAID = ['rules', 'check', 'sheet'] as const;
const SAID = {
  rules: 'The rules are written down.',
  check: 'The check is written down. What was found before keeps the limits it was judged by.',
  sheet: 'The sheet is written down.',
};

export interface BenchSettingsProps {
  rules: BenchRules;
  kinds: readonly CheckKind[];
  sheets: readonly LabelSheet[];
  said?: (typeof BENCH_SAID)[number];
  /** The form that was refused, as it was sent. */
  refused?: { form: string; sent: Sent; fault: Fault };
}

export function BenchSettingsView(props: BenchSettingsProps): JSX.Element {
  const { said, kinds, sheets } = props;
  const families = FAMILIES.filter((family) => kinds.some((kind) => kind.family === family));
  return (
    <Page title="Settings of the bench" at="/bench">
      <h1>Settings of the bench</h1>
      <p>
        <a href="/bench">Back to the bench</a>
      </p>
      {!!said && (
        <p class="note" role="status" safe>
          {SAID[said]}
        </p>
      )}
      <h2 id="rules">Rules for contents and labels</h2>
      <Rules {...props} />
      <h2 id="checks">What is checked before a release</h2>
      <p class="hint">
        Usual practice, to be made your own. They are findings of your own bench: no check here says that a product may
        be sold. Local law decides that.
      </p>
      {families.map((family) => (
        <section>
          <h3 safe>{FAMILY_WORDS[family]}</h3>
          {kinds
            .filter((kind) => kind.family === family)
            .map((kind) => (
              <KindForm {...props} kind={kind} />
            ))}
        </section>
      ))}
      <KindForm {...props} />
      <h2 id="sheets">Sheets that labels are printed on</h2>
      <p class="hint">
        Measured in millimetres, from the left and the top of the page. Measure yours before the first print.
      </p>
      {sheets.map((sheet) => (
        <SheetForm {...props} sheet={sheet} />
      ))}
      <SheetForm {...props} />
    </Page>
  );
}

type Mine = NonNullable<BenchSettingsProps['refused']> | undefined;

const mineOf = ({ refused }: BenchSettingsProps, form: string): Mine => (refused?.form === form ? refused : undefined);

const fieldsOf = (form: string, mine: Mine) => (name: string, value: string) => ({
  name,
  form,
  value: mine ? mine.sent[name] : value,
  fault: mine?.fault,
});

function Rules(props: BenchSettingsProps): JSX.Element {
  const { rules } = props;
  const mine = mineOf(props, RULES);
  const field = fieldsOf(RULES, mine);
  return (
    <form method="post" action="/bench/settings/rules">
      <FormKey />
      <FaultNote fault={mine?.fault} />
      <div class="fields">
        <ChoiceField
          {...field('netRule', rules.netRule)}
          label="Contents of filled units are judged by"
          hint="Which rule binds you, local law decides"
          choices={[
            ['nist-133', 'NIST Handbook 133'],
            ['eu-76-211', 'Directive 76/211/EEC'],
          ]}
        />
        <TextField
          {...field('address', rules.address)}
          label="Where these pages are reached from outside"
          hint="QR codes lead there: https://... Empty: where they are asked from"
        />
        <TextField
          {...field('leaveOn', `${rules.leaveOnPpb / 10_000_000} %`)}
          label="Allergens are named above, in what stays on the skin"
          required
        />
        <TextField
          {...field('rinseOff', `${rules.rinseOffPpb / 10_000_000} %`)}
          label="The same, in what is rinsed off"
          required
        />
      </div>
      <TextField {...field('allergenSource', rules.allergenSource)} label="Where these two figures stand" required />
      <p>
        <button type="submit">Write the rules down</button>
      </p>
    </form>
  );
}

const MADE_WORDS = [
  ['bulk', 'the batch of the bulk'],
  ['product', 'the filled product'],
  ['either', 'both'],
] as const;
const MEASURE_WORDS = [
  ['choice', 'a choice'],
  ['number', 'a number'],
  ['weights', 'the weights of filled units'],
] as const;

const E3 = 1000;
const decimal = (e3: number | null): string => (e3 === null ? '' : String(e3 / E3));

/** One check and its limits; without a kind, a new one. */
function KindForm(props: BenchSettingsProps & { kind?: CheckKind }): JSX.Element {
  const { kind } = props;
  const form = kind?.code ?? NEW_KIND;
  const mine = mineOf(props, form);
  const field = fieldsOf(form, mine);
  return (
    <details open={mine !== undefined} id={form}>
      <summary>
        <span safe>{kind?.name ?? 'Add a check'}</span>{' '}
        {!!kind && (
          <span class="hint" safe>
            {`${limitsText(kind)} ${kind.isRequired ? '' : 'If you like.'}`.trim()}
          </span>
        )}
      </summary>
      <form method="post" action={`/bench/settings/checks${kind ? `/${kind.code}` : ''}`}>
        <FormKey />
        <FaultNote fault={mine?.fault} />
        <TextField {...field('name', kind?.name ?? '')} label="What is checked" required maxlength={200} />
        <TextField {...field('how', kind?.how ?? '')} label="How it is done" maxlength={1000} />
        <div class="fields">
          {!kind && (
            <>
              <ChoiceField
                {...field('family', 'spray')}
                label="Of which family"
                choices={FAMILIES.map((family) => [family, FAMILY_WORDS[family]] as const)}
              />
              <ChoiceField {...field('measure', 'choice')} label="What is found" choices={MEASURE_WORDS} />
            </>
          )}
          <ChoiceField {...field('made', kind?.made ?? 'product')} label="At which batch" choices={MADE_WORDS} />
          <TextField
            {...field('position', String(kind?.position ?? 900))}
            label="Place in the order"
            hint="1 to 999, the lowest first"
            inputmode="numeric"
            required
          />
        </div>
        <Answers kind={kind} field={field} />
        <TextField
          {...field('oneOf', kind?.oneOf ?? '')}
          label="One of several"
          hint="Of the checks of a family with the same word here, one is enough"
          maxlength={60}
        />
        <p>
          <Tick
            name="isRequired"
            words="Nothing is released without it"
            isOn={mine ? mine.sent['isRequired'] === 'yes' : (kind?.isRequired ?? true)}
          />
        </p>
        <p>
          <button type="submit">{kind ? 'Write the check down' : 'Add the check'}</button>
        </p>
      </form>
    </details>
  );
}

/** What may be found: only the fields of the kind's own measure; for a new one all of them. */
function Answers({ kind, field }: { kind?: CheckKind; field: ReturnType<typeof fieldsOf> }): JSX.Element {
  const has = (measure: CheckKind['measure']) => kind === undefined || kind.measure === measure;
  return (
    <>
      {has('number') && (
        <div class="fields">
          <TextField {...field('unit', kind?.unit ?? '')} label="Unit of the number" maxlength={20} />
          <TextField
            {...field('lowest', decimal(kind?.lowestE3 ?? null))}
            label="Lowest that is good"
            inputmode="decimal"
          />
          <TextField
            {...field('highest', decimal(kind?.highestE3 ?? null))}
            label="Highest that is good"
            inputmode="decimal"
          />
        </div>
      )}
      {has('choice') && (
        <div class="fields">
          <LinesField {...field('choices', kind?.choices.join('\n') ?? '')} label="The choices, each on a line" />
          <LinesField {...field('good', kind?.good.join('\n') ?? '')} label="Which of them are good, each on a line" />
        </div>
      )}
      {has('weights') && (
        <TextField
          {...field('unitsLeast', kind?.unitsLeast === null || kind === undefined ? '' : String(kind.unitsLeast))}
          label="So many weighed units are enough"
          hint="Empty: as many as the rule's plan takes"
          inputmode="numeric"
        />
      )}
    </>
  );
}

const MM_FIELDS: readonly (readonly [string, string, keyof LabelSheet])[] = [
  ['pageWidthMm', 'Width of the page', 'pageWidthUm'],
  ['pageHeightMm', 'Height of the page', 'pageHeightUm'],
  ['widthMm', 'Width of a label', 'widthUm'],
  ['heightMm', 'Height of a label', 'heightUm'],
  ['leftMm', 'From the left edge to the first', 'leftUm'],
  ['topMm', 'From the top edge to the first', 'topUm'],
  ['pitchXMm', 'From the left of one to the left of the next', 'pitchXUm'],
  ['pitchYMm', 'From the top of one to the top of the next', 'pitchYUm'],
];

/** One sheet in millimetres; without one, a new sheet. */
function SheetForm(props: BenchSettingsProps & { sheet?: LabelSheet }): JSX.Element {
  const { sheet } = props;
  const form = sheet?.code ?? NEW_SHEET;
  const mine = mineOf(props, form);
  const field = fieldsOf(form, mine);
  return (
    <details open={mine !== undefined} id={form}>
      <summary safe>{sheet?.name ?? 'Add a sheet'}</summary>
      <form method="post" action={`/bench/settings/sheets${sheet ? `/${sheet.code}` : ''}`}>
        <FormKey />
        <FaultNote fault={mine?.fault} />
        <TextField {...field('name', sheet?.name ?? '')} label="What it is called" required maxlength={200} />
        <div class="fields">
          <TextField {...field('columns', String(sheet?.columns ?? ''))} label="Across" inputmode="numeric" required />
          <TextField {...field('rows', String(sheet?.rows ?? ''))} label="Down" inputmode="numeric" required />
          {MM_FIELDS.map(([name, label, um]) => (
            <TextField
              {...field(name, sheet ? decimal(sheet[um] as number) : '')}
              label={label}
              inputmode="decimal"
              required
            />
          ))}
        </div>
        <p>
          <button type="submit">{sheet ? 'Write the sheet down' : 'Add the sheet'}</button>
        </p>
      </form>
    </details>
  );
}
