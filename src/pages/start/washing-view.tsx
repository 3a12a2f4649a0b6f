import type { Family } from '../../catalog/item.entity.js';
import type { ItemView } from '../../catalog/items.schema.js';
import type { WashingView as WashingRow } from '../../catalog/washing.schema.js';
import type { VesselView } from '../../catalog/workshop.schema.js';
import { CodesList } from '../../ui/codes-list.js';
import { ChoiceField, FaultNote, fieldsOf, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { count } from '../../ui/words.js';
import { Onward, SaidRow } from './said-list.js';
import { stateOf, type Tried } from './tried.js';

export type WashingForm = 'row' | 'scent' | 'gone';

interface WashingProps {
  washing: readonly WashingRow[];
  vessels: readonly VesselView[];
  items: readonly ItemView[];
  said: string | undefined;
  /** A form that was refused, and why. */
  tried?: Tried<WashingForm>;
}

type Choice = readonly [value: string, words: string];

/** What is poured, by its family, as it stands in a sentence. */
const FAMILY_NAMES: Partial<Record<Family, string>> = {
  spray: 'a spray',
  body: 'something for the body or linen',
  diffuser: 'a diffuser',
  candle: 'a candle',
  soap: 'a soap',
  base: 'a base',
  fragrance: 'a fragrance',
  other: 'something of no family',
};

/** The table of what is washed between two pours, the form that adds to it, and what each thing smells of. */
export function WashingView(props: WashingProps): JSX.Element {
  const { said } = props;
  return (
    <Page title="Washing between pours" at="/start">
      <h1>Washing between pours</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {said}
        </p>
      )}
      <p>
        A vessel that held one thing may have to be washed before another is poured into it: a light scent after a heavy
        one takes longest. The minutes are bench minutes on the day of the next pour. Where you say nothing, nothing is
        washed.
      </p>
      <Rows {...props} />
      <RowForm {...props} />
      <Scents {...props} />
      <Onward to="/start#vessels" words="To your vessels" />
    </Page>
  );
}

function Rows({ washing, tried }: WashingProps): JSX.Element {
  if (washing.length === 0) return <p class="hint">Nothing is said yet.</p>;
  return (
    <section>
      <h2>What you said</h2>
      <FaultNote fault={stateOf(tried, 'gone').fault} />
      <ul class="rows">
        {washing.map((row) => (
          <SaidRow id={row.id} gone="/start/washing/gone">
            <span safe>{rowText(row)}</span>
            <button type="submit" class="no-print" aria-label={`Take it away: ${rowText(row)}`}>
              Take it away
            </button>
          </SaidRow>
        ))}
      </ul>
      <p class="hint">
        Where several are for the same, one for that vessel counts before one for its kind, and a scent before a family
        before anything. The same thing again needs nothing, nor does another of the same family and scent, unless you
        name that on both sides.
      </p>
    </section>
  );
}

/** `After a heavy scent, before a light one, in any vessel: 30 minutes.` */
export function rowText(row: WashingRow): string {
  const { afterFamily, afterScent, beforeFamily, beforeScent, vessel, kind, minutes } = row;
  const before =
    afterScent !== null && beforeScent !== null
      ? `${withArticle(beforeScent)} one`
      : thingText(beforeFamily, beforeScent);
  const where = vessel ?? (kind === null ? 'any vessel' : `any ${kind}`);
  const time = minutes === 0 ? 'no washing' : count(minutes, 'minute');
  return `After ${thingText(afterFamily, afterScent)}, before ${before}, in ${where}: ${time}.`;
}

const withArticle = (word: string): string => `${/^[aeiou]/.test(word) ? 'an' : 'a'} ${word}`;

function thingText(family: Family | null, scent: string | null): string {
  if (scent !== null) return `${withArticle(scent)} scent`;
  return family === null ? 'anything' : (FAMILY_NAMES[family] ?? `a ${family}`);
}

/** What the maker can name: the scents and families of what she makes, and what is in the table already. */
function thingsOf({ items, washing }: WashingProps): Choice[] {
  const made = items.filter(({ kind }) => kind !== 'material');
  const scents = new Set([
    ...made.flatMap(({ scent }) => scent ?? []),
    ...washing.flatMap(({ afterScent, beforeScent }) => [afterScent ?? [], beforeScent ?? []].flat()),
  ]);
  const families = new Set(made.map(({ family }) => family));
  return [
    ['', 'anything'],
    ...[...scents].toSorted().map((scent): Choice => [`scent:${scent}`, thingText(null, scent)]),
    ...[...families].toSorted().map((family): Choice => [`family:${family}`, thingText(family, null)]),
  ];
}

function RowForm(props: WashingProps): JSX.Element {
  const { vessels, tried } = props;
  const { sent, fault } = stateOf(tried, 'row');
  const things = thingsOf(props);
  const kinds = [...new Set(vessels.map(({ kind }) => kind))].toSorted();
  const places: Choice[] = [
    ['', 'any vessel'],
    ...kinds.map((kind): Choice => [`kind:${kind}`, `any ${kind}`]),
    ...vessels.map(({ code }): Choice => [`vessel:${code}`, code]),
  ];
  const field = fieldsOf('row', { sent, fault });
  return (
    <form method="post" action="/start/washing">
      <h2>Say how long</h2>
      {!things.some(([value]) => value.startsWith('scent:')) && (
        <p class="hint">Once you said below what smells of what, you can choose scents here too.</p>
      )}
      <FormKey />
      <FaultNote fault={fault} />
      <div class="fields">
        <ChoiceField {...field('after')} label="After" pointer="afterScent" choices={things} />
        <ChoiceField {...field('before')} label="Before" pointer="beforeScent" choices={things} />
        <ChoiceField {...field('where')} label="In" pointer="vessel" choices={places} />
        <TextField
          {...field('minutes')}
          label="Minutes"
          hint="0: no washing"
          inputmode="numeric"
          maxlength={4}
          required
        />
      </div>
      <p>
        <button type="submit" class="main">
          Write it down
        </button>
      </p>
    </form>
  );
}

function Scents({ items, tried }: WashingProps): JSX.Element {
  const { sent, fault } = stateOf(tried, 'scent');
  const made = items.filter(({ kind }) => kind !== 'material');
  const scents = [...new Set(made.flatMap(({ scent }) => scent ?? []))].toSorted();
  const namesOf = (scent: string): string =>
    made
      .filter((item) => item.scent === scent)
      .map(({ name }) => name)
      .join(', ');
  const field = fieldsOf('scent', { sent, fault });
  return (
    <form method="post" action="/start/washing/scent">
      <h2>What smells of what</h2>
      <p>
        A scent is your own word: light, heavy, citrus. Say it of what you pour, the bulk of a spray or a candle, not of
        the bottle it goes into.
      </p>
      {scents.length > 0 && (
        <ul>
          {scents.map((scent) => (
            <li safe>{`${scent}: ${namesOf(scent)}`}</li>
          ))}
        </ul>
      )}
      <FormKey />
      <FaultNote fault={fault} />
      <div class="fields">
        <TextField {...field('item')} label="What" hint="Its short name" list="made" maxlength={40} required />
        <TextField {...field('scent')} label="Scent" hint="Empty: none is said" list="scents" maxlength={40} />
      </div>
      <CodesList id="made" items={made} kinds={['bulk', 'product']} />
      <datalist id="scents">
        {scents.map((scent) => (
          <option value={scent}></option>
        ))}
      </datalist>
      <p>
        <button type="submit">Write the scent down</button>
      </p>
    </form>
  );
}
