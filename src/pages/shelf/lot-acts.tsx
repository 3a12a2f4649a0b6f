import type { PropsWithChildren } from '@kitajs/html';
import { ChoiceField, FaultNote, TextField } from '../../ui/form.js';
import type { LotForm, LotViewProps } from './lot-props.js';
import { DECISION_WORDS, TAKE_OUT_WORDS, TAKEN_OUT } from './elsewhere/shelf-words.js';
import { FormKey } from '../../ui/form-key.js';

/** Each act in a fold of its own: on a phone at the bench only the one that is wanted is open. */
export function LotActs(props: LotViewProps): JSX.Element {
  const { lot, item } = props.book;
  const amountHint = item.measure === 'weighed' ? 'In grams, or with a unit: 1.2 kg' : 'Pieces';
  return (
    <div class="folds">
      {lot.onHand > 0 && <TakeOut {...props} amountHint={amountHint} />}
      <Count {...props} amountHint={amountHint} />
      {props.book.mayBecome.length > 0 && <Decide {...props} />}
      {lot.onHand > 0 && <Split {...props} amountHint={amountHint} />}
      {item.lotDateKind === 'retest' && <Examine {...props} />}
      <DateRight {...props} />
    </div>
  );
}

type WithHint = LotViewProps & { amountHint: string };

function Fold(props: PropsWithChildren<LotViewProps & { form: LotForm; title: string; button: string }>): JSX.Element {
  const { book, refused, form, title, button, children } = props;
  const isRefused = refused?.form === form;
  return (
    <details open={isRefused}>
      <summary safe>{title}</summary>
      <form method="post" action={`/shelf/lots/${encodeURIComponent(book.lot.code)}/${form}`}>
        <FormKey />
        {isRefused && <FaultNote fault={refused.fault} />}
        {children}
        <p>
          <button type="submit" class="main" safe>
            {button}
          </button>
        </p>
      </form>
    </details>
  );
}

/** The name, the value as it was sent and the fault of a field of one of the forms. */
function fieldOf({ refused }: LotViewProps, form: LotForm) {
  const mine = refused?.form === form ? refused : undefined;
  return (name: string, pointer?: string) => ({ name, form, value: mine?.sent[name], fault: mine?.fault, pointer });
}

function TakeOut(props: WithHint): JSX.Element {
  const field = fieldOf(props, 'take-out');
  return (
    <Fold {...props} form="take-out" title="Take some out: throw away, sample, own use" button="Write it down">
      <ChoiceField
        {...field('as')}
        label="What for"
        choices={TAKEN_OUT.map((as) => [as, TAKE_OUT_WORDS[as]] as const)}
      />
      <TextField {...field('quantity')} label="How much" hint={props.amountHint} required />
      <TextField {...field('reason')} label="Why" required />
    </Fold>
  );
}

function Count(props: WithHint): JSX.Element {
  const field = fieldOf(props, 'count');
  return (
    <Fold {...props} form="count" title="Count it" button="Write the count down">
      <TextField {...field('counted', 'lots/0/counted')} label="Really there" hint={props.amountHint} required />
      <TextField {...field('reason')} label="Why" hint="Such as month's count" required />
    </Fold>
  );
}

function Decide(props: LotViewProps): JSX.Element {
  const field = fieldOf(props, 'decide');
  const { lot, mayBecome } = props.book;
  // that it is good is said, and never stands there already
  const unchosen = mayBecome.includes('released') ? [['', 'choose'] as const] : [];
  const title = lot.status === 'released' ? 'Put it on hold' : 'Decide about it';
  return (
    <Fold {...props} form="decide" title={title} button="Decide">
      <p class="hint">What is on hold or rejected is set aside for nobody: who waits for it gets told.</p>
      <ChoiceField
        {...field('to')}
        label="What"
        choices={[...unchosen, ...mayBecome.map((status) => [status, DECISION_WORDS[status]] as const)]}
      />
      <TextField {...field('why')} label="Why" required />
    </Fold>
  );
}

function Split(props: WithHint): JSX.Element {
  const field = fieldOf(props, 'split');
  const isHeld = props.refused?.form === 'split' && props.refused.sent['held'] === 'yes';
  return (
    <Fold {...props} form="split" title="Split a part off" button="Split it off">
      <p class="hint">The part becomes a lot of its own, in its own place: for a fair, a shop, or to keep it back.</p>
      <TextField {...field('quantity')} label="How much" hint={props.amountHint} required />
      <TextField {...field('place')} label="Where it goes" required maxlength={120} />
      <TextField {...field('reason')} label="Why" required />
      <p>
        <input type="checkbox" id="split-held" name="held" value="yes" checked={isHeld} />{' '}
        <label class="inline" for="split-held">
          Put the part on hold
        </label>
      </p>
    </Fold>
  );
}

function Examine(props: LotViewProps): JSX.Element {
  const field = fieldOf(props, 'examine');
  return (
    <Fold {...props} form="examine" title="Move its date after examining it" button="Move the date">
      <TextField {...field('newDate')} type="date" label="Good until" required />
      <TextField {...field('evidence')} label="What was examined and found" required />
    </Fold>
  );
}

function DateRight(props: LotViewProps): JSX.Element {
  const field = fieldOf(props, 'date');
  return (
    <Fold {...props} form="date" title="Put right a date that was written down wrongly" button="Put it right">
      <TextField {...field('expiresOn')} type="date" label="What stands on it (empty: no date)" />
      <TextField {...field('reason')} label="How the mistake was found" required />
    </Fold>
  );
}
