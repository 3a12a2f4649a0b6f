import type { PropsWithChildren } from '@kitajs/html';
import { longDay, momentText } from '../../ui/dates.js';
import type { BatchForm, SheetProps } from './sheet-props.js';
import { openLines } from './batch-weigh.js';
import { ChoiceField, FaultNote, TextField, Tick } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { StepCautions } from './step-cautions.js';
import { unitSent, WeightField } from '../../ui/amount-field.js';
import { exactText } from '../../ui/amounts.js';
import { type WeightUnit, weightUnit } from '../../ui/good-range.js';

/** What can be done with the batch beside weighing: what comes next is open, the rest stands in folds. */
export function Acts(props: SheetProps): JSX.Element {
  const { batch } = props;
  if (batch.isPaused) return <Resume {...props} />;
  const isBegun = batch.inputs.some(({ weighed }) => weighed > 0);
  if (batch.status === 'reserved' || batch.status === 'weighed')
    return (
      <div class="folds">
        {isBegun && <Finish {...props} />}
        {isBegun && <Pause {...props} />}
        {isBegun && <TakeBack {...props} />}
        <WorkIn {...props} />
        {isBegun && <Reject {...props} title="Give it up: all that is in is lost" button="Give it up" />}
      </div>
    );
  if (batch.status === 'resting')
    return (
      <div class="folds">
        <Release {...props} />
        <Reject {...props} title="Reject it" button="Reject it" />
      </div>
    );
  return batch.status === 'rejected' && batch.lot !== null ? <Mend {...props} /> : <Made {...props} />;
}

function fieldOf({ refused }: SheetProps, form: BatchForm) {
  const mine = refused?.form === form ? refused : undefined;
  return (name: string, value?: string, pointer?: string) => ({
    name,
    form,
    value: mine?.sent[name] ?? value,
    fault: mine?.fault,
    pointer,
  });
}

/** A field for a weight; what was sent keeps the unit it was typed in. */
function weightOf(props: SheetProps, form: BatchForm) {
  const sent = props.refused?.form === form ? props.refused.sent : undefined;
  return (name: string, unit: WeightUnit, pointer?: string) => ({
    ...fieldOf(props, form)(name, undefined, pointer),
    unit: sent ? unitSent(sent, name) : unit,
  });
}

const isOn = ({ refused }: SheetProps, form: BatchForm, name: string): boolean =>
  refused?.form === form && refused.sent[name] === 'yes';

function Fold(
  props: PropsWithChildren<SheetProps & { form: BatchForm; title: string; button: string; isNext?: boolean }>,
): JSX.Element {
  const { batch, refused, form, title, button, isNext, children } = props;
  const isRefused = refused?.form === form;
  return (
    <details open={isRefused || isNext}>
      <summary safe>{title}</summary>
      <form
        method="post"
        action={`/batches/${encodeURIComponent(batch.code)}/${form}`}
        data-keeps={`${batch.code}/${form}`}
      >
        <FormKey />
        {isRefused && <FaultNote fault={refused.fault} />}
        {children}
        <p>
          <button type="submit" class={isNext ? 'main' : ''} safe>
            {button}
          </button>
        </p>
      </form>
    </details>
  );
}

function Pause(props: SheetProps): JSX.Element {
  return (
    <Fold {...props} form="pause" title="Pause it" button="Pause it">
      <TextField {...fieldOf(props, 'pause')('note')} label="What is to be known when it goes on" required />
    </Fold>
  );
}

/** What was weighed by mistake; the entry stays, and another takes it back. */
function TakeBack(props: SheetProps): JSX.Element {
  const field = fieldOf(props, 'take-back');
  const choices = props.record.lines.flatMap(({ name, measure, entries }) =>
    entries
      .filter(({ movement, takenBack }) => movement !== null && takenBack === null)
      .map(
        ({ movement, lot, quantity }) =>
          [String(movement), `${exactText(quantity, measure)} of ${name}, lot ${lot}`] as const,
      ),
  );
  if (choices.length === 0) return <></>;
  return (
    <Fold {...props} form="take-back" title="Take back what was written down wrongly" button="Take it back">
      <ChoiceField {...field('movement')} label="Which entry" choices={choices.toReversed()} />
      <TextField {...field('reason')} label="What was wrong" required />
    </Fold>
  );
}

function Resume(props: SheetProps): JSX.Element {
  const last = props.record.pauses.at(-1);
  return (
    <section class="card">
      <h2>Paused</h2>
      {!!last && <p safe>{`${last.note} (${last.by}, ${momentText(last.at)})`}</p>}
      <form method="post" action={`/batches/${encodeURIComponent(props.batch.code)}/resume`}>
        <FormKey />
        <FaultNote fault={props.refused?.form === 'resume' ? props.refused.fault : undefined} />
        <p>
          <button type="submit" class="main">
            Take it up again
          </button>
        </p>
      </form>
    </section>
  );
}

function Finish(props: SheetProps): JSX.Element {
  const { batch, record } = props;
  const isBulk = batch.measure === 'weighed';
  const field = fieldOf(props, 'finish');
  const weight = weightOf(props, 'finish');
  const isNext = openLines(batch).length === 0;
  const fillable = batch.inputs.filter(
    ({ measure, weighed, step, stocked }) => measure === 'weighed' && weighed > 0 && stocked && step !== 'pack',
  );
  const mayLeave = isBulk ? [] : fillable;
  return (
    <Fold
      {...props}
      form="finish"
      title={isBulk ? 'Close the pour' : 'Close the filling'}
      button="Close it"
      isNext={isNext}
    >
      <StepCautions batch={batch} />
      {isBulk ? (
        <WeightField {...weight('made', weightUnit(batch.output))} label="Weight of what was made" required />
      ) : (
        <TextField {...field('made')} label="Pieces made" inputmode="numeric" required />
      )}
      {isBulk && <TextField {...field('density')} label="Density as measured, g/ml" hint="Only where you measure it" />}
      {mayLeave.map(({ position, name }) => (
        <WeightField
          {...weight(`left-${position}`, 'g')}
          label={`Left over of ${name}`}
          hint="It goes back on the shelf as a lot of its own"
        />
      ))}
      <TextField {...field('place')} label="Where it stands" />
      <TextField
        {...field('minutes', String(record.plannedMinutes))}
        label="Minutes at the bench"
        inputmode="numeric"
      />
      <TextField
        {...field('lossReason')}
        label="Why more or less was lost than usual"
        hint="Only where it departs from the formula's loss"
      />
      {!isNext && (
        <>
          <Tick name="leaveOut" words="Leave out what is not weighed" isOn={isOn(props, 'finish', 'leaveOut')} />
          <TextField {...field('why')} label="Why it is left out" />
        </>
      )}
    </Fold>
  );
}

function Release(props: SheetProps): JSX.Element {
  const { batch, record, today } = props;
  const field = fieldOf(props, 'release');
  const isEarly = batch.readyOn > today;
  const { missing, failed } = record.checks;
  const lacks = openLines(batch).length > 0;
  return (
    <Fold
      {...props}
      form="release"
      title="Release it"
      button="Release it"
      isNext={!isEarly && !lacks && record.checks.isReleasable}
    >
      <p safe>
        {isEarly ? `It rests until ${longDay(batch.readyOn)}.` : `Its rest is over since ${longDay(batch.readyOn)}.`}
      </p>
      {missing.length > 0 && (
        <p class="note care" safe>
          {`Still to be checked: ${missing.join(', ')}.`}
        </p>
      )}
      {record.checks.checks.length > 0 && (
        <p>
          <a class="button" href={`/batches/${encodeURIComponent(batch.code)}/checks`}>
            Go to its checks
          </a>
        </p>
      )}
      {failed.length > 0 && (
        <p class="note bad" safe>
          {`Not good: ${failed.join(', ')}.`}
        </p>
      )}
      <TextField
        {...field('why')}
        label={isEarly ? 'Why it is released before its rest is over' : 'Remark'}
        required={isEarly}
      />
      {lacks && (
        <Tick
          name="leaveOut"
          words="Leave out what was not put on after the rest"
          isOn={isOn(props, 'release', 'leaveOut')}
        />
      )}
    </Fold>
  );
}

function Reject(props: SheetProps & { title: string; button: string }): JSX.Element {
  const isMade = props.batch.lot !== null;
  return (
    <Fold {...props} form="reject">
      <TextField {...fieldOf(props, 'reject')('why')} label="Why it is not good" required />
      {isMade && (
        <Tick
          name="forRework"
          words="Set its lot aside to go into another batch"
          isOn={isOn(props, 'reject', 'forRework')}
        />
      )}
    </Fold>
  );
}

function WorkIn(props: SheetProps): JSX.Element {
  const field = fieldOf(props, 'work-in');
  const weight = weightOf(props, 'work-in');
  return (
    <Fold {...props} form="work-in" title="Work in a rejected lot" button="Work it in">
      <TextField {...field('lot')} label="The rejected lot, set aside for it" required />
      <WeightField {...weight('quantity', 'g')} label="How much" required />
      <TextField {...field('why')} label="Why" required />
    </Fold>
  );
}

function Mend(props: SheetProps): JSX.Element {
  const field = fieldOf(props, 'mend');
  const weight = weightOf(props, 'mend');
  const made = props.record.outputs.find(({ kind }) => kind === 'made');
  return (
    <>
      <p>
        Its lot{' '}
        <a href={`/shelf/lots/${encodeURIComponent(props.batch.lot!)}`} safe>
          {props.batch.lot}
        </a>
        <span
          safe
        >{` is rejected${made ? `; ${exactText(made.onHand, props.batch.measure)} of it are left` : ''}.`}</span>
      </p>
      <Fold
        {...props}
        form="mend"
        title="Mend it in a batch of its own"
        button="Begin that batch"
        isNext={(made?.onHand ?? 0) > 0}
      >
        <TextField {...field('why')} label="How it is to be mended" required />
        <TextField
          {...field('item', undefined, 'additions/0/item')}
          label="What is added"
          hint="The code of an item, if anything"
        />
        <WeightField {...weight('quantity', 'g', 'additions/0/quantity')} label="How much of it" />
      </Fold>
    </>
  );
}

function Made({ batch, record }: SheetProps): JSX.Element {
  if (record.outputs.length === 0) return <></>;
  return (
    <section>
      <h2>What it made</h2>
      <ul>
        {record.outputs.map(({ lot, kind, item, quantity, status }) => (
          <li>
            <a href={`/shelf/lots/${encodeURIComponent(lot)}`} safe>
              {lot}
            </a>
            <span
              safe
            >{`: ${kind === 'made' ? exactText(quantity, batch.measure) : exactText(quantity, 'weighed')} of ${item}, ${kind === 'made' ? status : 'left over'}`}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}
