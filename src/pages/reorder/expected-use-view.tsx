import type { ItemView } from '../../catalog/items.schema.js';
import type { ItemOutlook } from '../../reorder/reorder.schema.js';
import type { SaidView } from '../../reorder/said-use.schema.js';
import { amountText } from '../../ui/amounts.js';
import { CodesList } from '../../ui/codes-list.js';
import { ChoiceField, type Fault, FaultNote, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { count } from '../../ui/words.js';
import { forecastWords } from './elsewhere/reorder-words.js';

interface ExpectedUseProps {
  item: ItemView;
  outlook: ItemOutlook;
  said: SaidView;
  /** Bought items that are measured the same way. */
  others: readonly ItemView[];
  isWritten?: boolean;
  /** What was sent and refused. */
  sent?: Sent;
  fault?: Fault;
}

const FORM = 'said';
const PPB_OF_PERCENT = 10_000_000;
/** Weeks of its own use that are shown. */
const WEEKS_SHOWN = 8;

/** What is expected of an item, what that rests on, and the form that says what nobody else can know yet. */
export function ExpectedUseView(props: ExpectedUseProps): JSX.Element {
  const { item, outlook, isWritten } = props;
  return (
    <Page title={`How fast ${item.name} goes`} at="/reorder">
      <h1 safe>{`How fast does ${item.name} go?`}</h1>
      {isWritten === true && (
        <p class="note" role="status">
          It is written down, and what to reorder goes by it.
        </p>
      )}
      <p safe>{forecastWords({ forecast: outlook.forecast, measure: item.measure })}</p>
      <p class="hint" safe>
        {usedWords(item, outlook.history)}
      </p>
      <SaidForm {...props} />
      <p class="row no-print">
        <a class="button" href={`/why/reorder/${item.code}`}>
          Why so much is to be ordered
        </a>
        <a class="button" href={`/shelf/items/${item.code}`}>
          To its lots
        </a>
      </p>
    </Page>
  );
}

function usedWords(item: ItemView, history: readonly number[]): string {
  if (history.length === 0) return 'Nothing of it was used yet in a whole week.';
  const last = history.slice(-WEEKS_SHOWN).map((used) => amountText(used, item.measure));
  return `Used in the last ${count(last.length, 'whole week')}, oldest first: ${last.join(', ')}.`;
}

function SaidForm({ item, said, others, sent, fault }: ExpectedUseProps): JSX.Element {
  const kept: Sent = {
    by: said.by,
    like: said.like ?? '',
    percent: String((said.likePpb ?? 100 * PPB_OF_PERCENT) / PPB_OF_PERCENT),
    quantity: said.quantity === null ? '' : amountText(said.quantity, item.measure),
    per: said.per ?? 'week',
    from: said.from ?? '',
  };
  const field = (name: string) => ({ name, form: FORM, value: (sent ?? kept)[name], fault });
  return (
    <form method="post" action={`/reorder/items/${item.code}`}>
      <h2>What you know of it</h2>
      <p>
        While it is new, its own weeks say little. What you say here speaks until they do: it counts as much as eight
        weeks of its own, and after a year no more.
      </p>
      {said.saidBy !== null && <p class="hint" safe>{`Said by ${said.saidBy}.`}</p>}
      <FormKey />
      <FaultNote fault={fault} />
      <div class="fields">
        <ChoiceField
          {...field('by')}
          label="What speaks for it"
          choices={[
            ['nothing', 'Nothing but its own use'],
            ['like', 'It goes like another one'],
            ['estimate', 'My estimate'],
          ]}
        />
        <TextField
          {...field('from')}
          type="date"
          label="It begins on"
          hint="Its own use counts from then on. Empty: all of it counts."
        />
      </div>
      <LikeFields field={field} />
      <EstimateFields field={field} isWeighed={item.measure === 'weighed'} />
      <CodesList id="others" items={others} kinds={['material']} />
      <p>
        <button type="submit" class="main">
          Write it down
        </button>
      </p>
    </form>
  );
}

interface FieldsProps {
  /** What a field of the form begins with, by its name. */
  field: (name: string) => { name: string; form: string; value: string | undefined; fault: Fault | undefined };
}

function LikeFields({ field }: FieldsProps): JSX.Element {
  return (
    <fieldset>
      <legend>It goes like another one</legend>
      <div class="fields">
        <TextField {...field('like')} label="Goes like" hint="Code of the other one" list="others" maxlength={40} />
        <TextField
          {...field('percent')}
          label="As much as that, in percent"
          hint="80: four fifths of what that one uses"
          inputmode="decimal"
        />
      </div>
    </fieldset>
  );
}

function EstimateFields({ field, isWeighed }: FieldsProps & { isWeighed: boolean }): JSX.Element {
  return (
    <fieldset>
      <legend>My estimate</legend>
      <div class="fields">
        <TextField
          {...field('quantity')}
          label="So much is used"
          hint={isWeighed ? 'A number is in grams; or 1.5 kg, 4 oz' : 'Pieces, or 2 dozen'}
        />
        <ChoiceField
          {...field('per')}
          label="In"
          choices={[
            ['week', 'a week'],
            ['month', 'a month'],
          ]}
        />
      </div>
    </fieldset>
  );
}
