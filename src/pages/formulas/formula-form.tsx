import type { FormulaBook } from '../../catalog/formula-book.service.js';
import { STEPS } from '../../catalog/formula.entity.js';
import type { ItemView } from '../../catalog/items.schema.js';
import { valueOf } from '../../stock/worth.js';
import { ChoiceField, type Fault, FaultNote, FieldFrame, type Sent, TextField, tiesOf } from '../../ui/form.js';
import { faultsByRow, rowsOf } from './formula-draft.js';
import { LineRows, RowResult, rowTexts, type Solution } from './formula-rows.js';
import { STEP_WORDS } from './elsewhere/formula-words.js';
import { Page } from '../../ui/layout.js';
import { amountText, moneyText } from '../../ui/amounts.js';
import { FormKey } from '../../ui/form-key.js';
import { CodesList } from '../../ui/codes-list.js';

interface FormulaFormProps {
  book: FormulaBook;
  sent: Sent;
  items: readonly ItemView[];
  kinds: readonly string[];
  /** What some of those who work here may do. */
  skills: readonly string[];
  currency: string;
  solution?: Solution;
  fault?: Fault;
}

/** The form of a new version. */
export function FormulaForm(props: FormulaFormProps): JSX.Element {
  const { book, sent, items, solution, fault, currency } = props;
  const { item, versions } = book;
  const version = (versions[0]?.version ?? 0) + 1;
  const isBulk = item.kind === 'bulk';
  return (
    <Page title={`Write version ${version} of ${item.name}`} at="/formulas">
      <h1 safe>{`${item.name}, version ${version}`}</h1>
      {item.kind === 'material' ? (
        <p class="note bad">It is bought, not made here.</p>
      ) : (
        <form
          method="post"
          action={`/formulas/${item.code}/new`}
          hx-post={`/formulas/${item.code}/new/solution`}
          hx-trigger="input delay:400ms, change delay:400ms"
          hx-target="#solution"
          hx-swap="innerHTML"
          hx-sync="this:replace"
        >
          <FormKey />
          <FaultNote fault={fault} />
          <p class="hint">
            {isBulk
              ? 'A line is a part of the whole, a part of the lines marked as base (as fragrance is counted), so many times other lines, or fills up to 100 %.'
              : 'Each line is what goes into one, or into each batch whatever its size.'}
          </p>
          <LineRows {...props} />
          <div class="row">
            <TextField
              name="batch"
              form="new"
              label={isBulk ? 'Worked out for, put in' : 'Worked out for'}
              value={sent['batch']}
              fault={solution?.fault ?? fault}
              maxlength={40}
            />
            <button type="submit" name="do" value="try">
              Work it out
            </button>
            <button type="submit" name="do" value="more">
              More lines
            </button>
          </div>
          <div id="solution" role="status" class="note">
            <Summary sent={sent} solution={fault ? { fault } : solution} currency={currency} />
          </div>
          <MakingFields {...props} />
          <p>
            <button type="submit" name="do" value="keep" class="main" safe>
              {`Keep it as version ${version}`}
            </button>{' '}
            <a class="button" href={`/formulas/${item.code}`}>
              Leave it
            </a>
          </p>
          <CodesList id="items" items={items} />
        </form>
      )}
    </Page>
  );
}

/** The answer while typing: the summary, and beside it what each row comes to. */
export function Solved(props: { sent: Sent; solution: Solution; currency: string; isUpdate: true }): JSX.Element {
  const { sent, solution, currency } = props;
  const texts = rowTexts(sent, solution, currency);
  return (
    <>
      <Summary sent={sent} solution={solution} currency={currency} />
      {Array.from({ length: rowsOf(sent) }, (_, at) => (
        <RowResult row={at + 1} text={texts.get(at + 1)} isUpdate />
      ))}
    </>
  );
}

function Summary(props: { sent: Sent; solution: Solution | undefined; currency: string }): JSX.Element {
  const { sent, solution, currency } = props;
  if (!solution) return <p>Write lines, and what they come to stands here.</p>;
  if (solution.fault) {
    const rows = [...faultsByRow(sent, solution.fault).keys()];
    return (
      <p>
        {rows.length > 0 && <strong safe>{`Line ${rows.join(', ')}: `}</strong>}
        <span class="fault" safe>
          {solution.fault.detail}
        </span>
      </p>
    );
  }
  const { sheet } = solution;
  const costs = sheet.lines.map((line) => valueOf(line.amount, solution.costs.get(line.item)));
  const known = costs.filter((cost) => cost !== null);
  const unknown = known.length < costs.length ? ' by the lines whose cost is known' : '';
  const hasParts = solution.partsPpb.some((part) => part !== null);
  return (
    <>
      <p safe>
        {`${hasParts ? 'Adds up to 100 %. ' : ''}This batch puts ${amountText(sheet.putInMg, 'weighed')} in and costs ${moneyText(
          known.reduce((sum, cost) => sum + cost, 0),
          currency,
        )}${unknown}.`}
      </p>
      {sheet.lines
        .filter((line) => line.flag !== null)
        .map((line) => (
          <p safe>{`${line.name} is too light for the scale. ${line.advice.join(' Or: ')}`}</p>
        ))}
    </>
  );
}

function MakingFields({ book, sent, kinds, skills, fault }: FormulaFormProps): JSX.Element {
  const { item } = book;
  const field = (name: string) => ({ name, form: 'new', value: sent[name], fault });
  const isWeighed = item.measure === 'weighed';
  const unit = isWeighed ? 'In grams, or with a unit' : 'Pieces';
  return (
    <>
      <fieldset>
        <legend>Batches</legend>
        <div class="fields">
          <TextField {...field('batchMin')} label="Smallest batch" hint={unit} required maxlength={40} />
          <TextField
            {...field('batchMax')}
            label="Largest batch"
            hint="Left empty: what the vessel holds"
            maxlength={40}
          />
          <TextField {...field('batchMultiple')} label="In steps of" hint={unit} maxlength={40} />
          {item.kind !== 'set' && (
            <ChoiceField
              {...field('vesselKind')}
              label="Made in"
              choices={[['', 'no vessel'] as const, ...kinds.map((kind) => [kind, kind] as const)]}
            />
          )}
          <TextField {...field('loss')} label="Lost on the way, %" inputmode="decimal" maxlength={20} />
          <TextField {...field('residue')} label="Stays in the vessel" hint="In grams" maxlength={40} />
          <TextField {...field('minutesBatch')} label="Bench minutes a batch" inputmode="numeric" maxlength={9} />
          <TextField {...field('secondsUnit')} label="Seconds for each one" inputmode="numeric" maxlength={9} />
          {item.kind !== 'set' && (
            <TextField {...field('restDays')} label="Rests, days" inputmode="numeric" maxlength={9} />
          )}
          <TextField
            {...field('skill')}
            label="Only for who may do"
            hint="In your own words, such as lye; empty: anybody may make it"
            list="skills"
            maxlength={60}
          />
          <datalist id="skills">
            {skills.map((skill) => (
              <option value={skill}></option>
            ))}
          </datalist>
        </div>
      </fieldset>
      <fieldset>
        <legend>Method</legend>
        <p class="hint">An empty line parts one step from the next. Begin with what can hurt someone.</p>
        {STEPS.map((phase) => (
          <StepsField {...field(`steps.${phase}`)} label={STEP_WORDS[phase]} />
        ))}
        <StepsField {...field('note')} label="Note" />
      </fieldset>
    </>
  );
}

function StepsField(props: {
  name: string;
  form: string;
  value: string | undefined;
  label: string;
  fault?: Fault;
}): JSX.Element {
  const id = `${props.form}-${props.name}`;
  return (
    <FieldFrame {...props}>
      <textarea id={id} name={props.name} rows="4" maxlength="20000" {...tiesOf(props, id)} safe>
        {props.value ?? ''}
      </textarea>
    </FieldFrame>
  );
}
