import { shortDay } from '../../ui/dates.js';
import { ChoiceField, FaultNote, fieldsOf, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { LongField } from '../../ui/long-field.js';
import type { RecallProps } from './recall-props.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

export function Holding({
  recall,
  effects,
  refused,
}: Pick<RecallProps, 'recall' | 'effects' | 'refused'>): JSX.Element {
  const held = recall.scope.filter(({ isHeldByThis }) => isHeldByThis).length;
  const measures = new Map(recall.scope.map(({ item, measure }) => [item, measure]));
  return (
    <section class="no-print">
      <h2>Hold everything affected</h2>
      {effects.lots.length === 0 ? (
        <p>Nothing that may be used is left of any lot of the scope.</p>
      ) : (
        <>
          <p safe>
            {`Holding now stops ${count(effects.lots.length, 'lot')}: ${effects.lots.map(({ lot }) => lot).join(', ')}.`}
          </p>
          {effects.batches.length > 0 && (
            <p safe>{`At the bench, to be paused: ${effects.batches.map(({ batch }) => batch).join(', ')}.`}</p>
          )}
          {effects.freed.length > 0 ? (
            <>
              <p>It takes from the plan and from orders:</p>
              <ul>
                {effects.freed.map(({ item, quantity, needOn, batch, order }) => (
                  <li safe>
                    {`${amountText(quantity, measures.get(item) ?? 'counted')} of ${item} for ${batch === null ? `order ${order}` : `batch ${batch}`}, needed ${shortDay(needOn)}`}
                  </li>
                ))}
              </ul>
            </>
          ) : (
            <p>Nothing of it is set aside for a batch or an order.</p>
          )}
          <form method="post" action={`/recalls/${recall.code}/hold`}>
            <FormKey />
            {refused?.form === 'hold' && <FaultNote fault={refused.fault} />}
            <button type="submit" class="main">
              Hold all of it
            </button>
          </form>
        </>
      )}
      {held > 0 && (
        <p>
          What the week's plan is short of now, <a href="/week">the week</a> says once it is planned again.
        </p>
      )}
      {held > 0 && (
        <details open={refused?.form === 'lift'}>
          <summary safe>{`Lift the hold on ${count(held, 'lot')}`}</summary>
          <form method="post" action={`/recalls/${recall.code}/lift`}>
            <FormKey />
            {refused?.form === 'lift' && <FaultNote fault={refused.fault} />}
            <LongField name="why" form="lift" label="Why it may be used again" required maxlength={2000} />
            <button type="submit">Lift it</button>
          </form>
        </details>
      )}
    </section>
  );
}

export function Answering({ recall, list, refused }: Pick<RecallProps, 'recall' | 'list' | 'refused'>): JSX.Element {
  if (list.recipients.length === 0) return <></>;
  const pairs = [
    ...new Set(list.recipients.flatMap(({ order, parcels }) => parcels.map(({ lot }) => `${order} ${lot}`))),
  ];
  const of = refused?.form === 'answer' ? refused : undefined;
  const field = fieldsOf('answer', of ?? {});
  return (
    <section class="no-print">
      <h2>Write and answer</h2>
      <form method="post" action={`/recalls/${recall.code}/letters`}>
        <FormKey />
        <div class="filters">
          <ChoiceField
            name="sentBy"
            form="letters"
            label="All who were not written to yet were written to by"
            choices={[
              ['post', 'post'],
              ['email', 'email'],
              ['telephone', 'telephone'],
              ['other', 'something else'],
            ]}
          />
          <button type="submit">Write it down</button>
        </div>
      </form>
      <details open={of !== undefined}>
        <summary>Write down what a recipient says</summary>
        <form method="post" action={`/recalls/${recall.code}/answer`}>
          <FormKey />
          <FaultNote fault={of?.fault} />
          <ChoiceField {...field('pair')} label="Order and lot" choices={pairs.map((pair) => [pair, pair])} />
          <div class="fields">
            <TextField {...field('received')} label="They got" inputmode="numeric" required />
            <TextField {...field('used')} label="Used" inputmode="numeric" />
            <TextField {...field('kept')} label="Still there" inputmode="numeric" />
            <TextField {...field('destroyed')} label="Destroyed" inputmode="numeric" />
            <TextField {...field('sentBack')} label="Sent back" inputmode="numeric" />
          </div>
          <TextField {...field('note')} label="Note" />
          <p>
            <button type="submit">Write it down</button>
          </p>
        </form>
      </details>
    </section>
  );
}

export function Closing({ recall, refused }: Pick<RecallProps, 'recall' | 'refused'>): JSX.Element {
  if (recall.isDrill) return <></>;
  const isOpen = recall.status === 'open';
  const form = (name: string, label: string, button: string, isMain: boolean) => (
    <form method="post" action={`/recalls/${recall.code}/${name}`}>
      <FormKey />
      {refused?.form === name && <FaultNote fault={refused.fault} />}
      <LongField
        name="why"
        form={name}
        label={label}
        value={refused?.form === name ? refused.sent['why'] : undefined}
        fault={refused?.form === name ? refused.fault : undefined}
        required
        maxlength={2000}
      />
      <button type="submit" class={isMain ? 'main' : undefined} safe>
        {button}
      </button>
    </form>
  );
  return (
    <section class="no-print">
      <h2>{isOpen ? 'Decide and close' : 'Take it up again'}</h2>
      {isOpen ? (
        <>
          {form('decision', 'A decision', 'Write it down', false) as 'safe'}
          <form method="post" action={`/recalls/${recall.code}/scope`}>
            <FormKey />
            <p>
              <button type="submit">Look again what came of the lot</button>
            </p>
          </form>
          {form('close', 'Outcome, with which it is closed', 'Close the recall', true) as 'safe'}
        </>
      ) : (
        form('reopen', 'Why', 'Open it again', false)
      )}
    </section>
  );
}
