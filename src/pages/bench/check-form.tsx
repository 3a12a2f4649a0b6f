import { shortDay } from '../../ui/dates.js';
import type { CheckResult, ChecksView } from '../../checks/checks.schema.js';
import { NetTable } from './net-table.js';
import { ChoiceField, type Fault, faultAt, FaultNote, fieldsOf, type Sent, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';

type Check = ChecksView['checks'][number];

export interface CheckFormProps {
  batch: string;
  /** What it made; null before it is finished. */
  lot: string | null;
  checks: ChecksView;
  /** Code of the check that was just written down. */
  said?: string;
  /** The form that was refused, as it was sent. */
  refused?: { kind: string; sent: Sent; fault: Fault };
}

const addressOf = (batch: string): string => `/batches/${encodeURIComponent(batch)}/checks`;

/** What is checked of a batch, each in a fold of its own: the first that is still open stands open. */
export function CheckForm(props: CheckFormProps): JSX.Element {
  const { checks, said } = props;
  const next = checks.checks.find((check) => check.state === 'open' && checks.missing.includes(check.name));
  if (checks.checks.length === 0) return <p>Nothing is asked to be checked of it.</p>;
  return (
    <>
      <p class={`note ${checks.isReleasable ? '' : 'care'}`} role={said ? 'status' : undefined} safe>
        {standingOf(checks, said)}
      </p>
      <div class="folds">
        {checks.checks.map((check) => (
          <CheckFold {...props} check={check} isNext={check === next && said === undefined} />
        ))}
      </div>
    </>
  );
}

function standingOf({ missing, failed, isReleasable, checks }: ChecksView, said: string | undefined): string {
  const done = said === undefined ? '' : `Written down: ${checks.find(({ code }) => code === said)?.name ?? said}. `;
  if (isReleasable) return `${done}All that is asked for is checked and good.`;
  const parts = [
    missing.length > 0 ? `Still to check: ${missing.join(', ')}.` : '',
    failed.length > 0 ? `Not good: ${failed.join(', ')}.` : '',
  ];
  return `${done}${parts.filter((part) => part !== '').join(' ')}`;
}

const MARKS = { open: ['care', 'to check'], good: ['good', 'good'], 'not-good': ['bad', 'not good'] } as const;

function CheckFold(props: CheckFormProps & { check: Check; isNext: boolean }): JSX.Element {
  const { batch, lot, checks, check, said, refused, isNext } = props;
  const mine = refused?.kind === check.code ? refused : undefined;
  const [mark, words] = check.state === 'open' && !check.isRequired ? ['care', 'if you like'] : MARKS[check.state];
  const [standing, ...before] = check.results;
  return (
    <details open={mine !== undefined || isNext || said === check.code} id={check.code}>
      <summary>
        <span safe>{check.name}</span>{' '}
        <span class={`mark ${mark}`} safe>
          {words}
        </span>
      </summary>
      {!!standing && <Found result={standing} unit={check.unit} batch={batch} mayAdd />}
      <p class="hint" safe>
        {[check.how, limitsText(check)].filter((text) => text !== '').join(' ')}
      </p>
      {check.measure === 'weights' && checks.label === null && (
        <FirstTheLabel batch={batch} item={checks.item} lot={lot} />
      )}
      <form method="post" action={addressOf(batch)} data-keeps={`${batch}/check/${check.code}`}>
        <FormKey />
        <input type="hidden" name="kind" value={check.code} />
        {!!mine && <FaultNote fault={mine.fault} />}
        <Answer check={check} sent={mine?.sent} fault={mine?.fault} />
        <TextField
          name="note"
          form={check.code}
          label="Note"
          value={mine?.sent['note']}
          fault={mine?.fault}
          maxlength={1000}
        />
        <p>
          <button type="submit" class={isNext ? 'main' : ''}>
            {standing ? 'Write down what is found now' : 'Write it down'}
          </button>
        </p>
      </form>
      {before.length > 0 && (
        <details>
          <summary safe>{`Found before (${before.length})`}</summary>
          {before.map((result) => (
            <Found result={result} unit={check.unit} batch={batch} />
          ))}
        </details>
      )}
    </details>
  );
}

/** Weights are judged by what the label states, so where that is not said yet the way there comes first. */
function FirstTheLabel({ batch, item, lot }: { batch: string; item: string; lot: string | null }): JSX.Element {
  if (lot === null)
    return (
      <p class="note care" safe>
        {`What the label of ${item} states as contents is not said yet. Finish the batch first: its label is on the page of its lot.`}
      </p>
    );
  return (
    <p class="note care">
      <span safe>{`What the label of ${item} states as contents is not said yet, so no weight can be judged.`}</span>{' '}
      <a href={`/labels/${encodeURIComponent(lot)}?from=${encodeURIComponent(batch)}#stated`}>
        Say what the label states
      </a>
    </p>
  );
}

/** What is good, in a sentence; empty where nothing is said. */
export function limitsText(check: Pick<Check, 'measure' | 'lowestE3' | 'highestE3' | 'unit' | 'good'>): string {
  const { measure, lowestE3, highestE3, unit, good } = check;
  if (measure === 'choice') return `Good is: ${good.join(', ')}.`;
  const [low, high] = [lowestE3, highestE3].map((limit) => (limit === null ? null : `${limit / 1000} ${unit}`.trim()));
  if (low && high) return `Good is from ${low} to ${high}.`;
  if (low) return `Good is ${low} or more.`;
  return high ? `Good is ${high} or less.` : '';
}

function Answer({ check, sent, fault }: { check: Check; sent?: Sent; fault?: Fault }): JSX.Element {
  const field = fieldsOf(check.code, { sent, fault });
  if (check.measure === 'choice')
    return (
      <ChoiceField
        {...field('choice')}
        label="What it is"
        choices={[['', 'choose'], ...check.choices.map((one) => [one, one] as const)]}
      />
    );
  if (check.measure === 'number')
    return (
      <TextField
        {...field('value')}
        label={check.unit === '' ? 'Measured' : `Measured, in ${check.unit}`}
        inputmode="decimal"
        required
      />
    );
  return <Weights check={check} sent={sent} fault={fault} />;
}

/** Weights are written or scanned one after the other: a scale that types ends each with a new line. */
function Weights({ check, sent, fault }: { check: Check; sent?: Sent; fault?: Fault }): JSX.Element {
  const id = `${check.code}-weights`;
  const said =
    fault &&
    (faultAt({ name: 'weights', fault }) ??
      Object.entries(fault.fields).find(([at]) => at.startsWith('weights/'))?.[1]);
  return (
    <>
      <div class="field">
        <label for={id}>Weight of each unit</label>
        <textarea
          id={id}
          name="weights"
          required
          rows="6"
          aria-describedby={`${id}-hint${said ? ` ${id}-fault` : ''}`}
          aria-invalid={said ? 'true' : undefined}
          safe
        >
          {sent?.['weights'] ?? ''}
        </textarea>
        <div class="hint" id={`${id}-hint`}>
          In grams, each on a line of its own
        </div>
        {!!said && (
          <div class="fault" id={`${id}-fault`} safe>
            {said}
          </div>
        )}
      </div>
      <TextField
        name="tare"
        form={check.code}
        label="Empty container, in grams"
        hint="Taken off each; leave it empty where the scale did"
        value={sent?.['tare']}
        fault={fault}
        inputmode="decimal"
      />
    </>
  );
}

interface FoundProps {
  result: CheckResult;
  unit: string;
  batch: string;
  /** A photo may be added: of what stands, not of what was found before. */
  mayAdd?: boolean;
}

/** One thing that was found, by whom and when, with what shows it. */
function Found({ result, unit, batch, mayAdd }: FoundProps): JSX.Element {
  const { id, passes, note, photos, judgement } = result;
  return (
    <div class="card">
      <p>
        <strong safe>{foundText(result, unit)}</strong>{' '}
        <span class={`mark ${passes ? 'good' : 'bad'}`}>{passes ? 'good' : 'not good'}</span>
      </p>
      <p class="hint" safe>
        {`${result.createdBy}, ${shortDay(result.doneOn)}${note === '' ? '' : `: ${note}`}`}
      </p>
      {!!judgement && <NetTable judgement={judgement} />}
      {photos.length > 0 && (
        <p class="row">
          {photos.map((photo, at) => (
            <a href={`/api/check-photos/${photo.id}`}>
              <img class="photo" src={`/api/check-photos/${photo.id}`} alt={`Photo ${at + 1}`} loading="lazy" />
            </a>
          ))}
        </p>
      )}
      {mayAdd && (
        <form method="post" action={`${addressOf(batch)}/${id}/photo`} enctype="multipart/form-data">
          <label for={`photo-${id}`}>Photo</label>
          <div class="row">
            <input id={`photo-${id}`} type="file" name="photo" accept="image/jpeg,image/png,image/webp" required />
            <button type="submit">Add it</button>
          </div>
        </form>
      )}
    </div>
  );
}

function foundText({ valueE3, choice, weightsMg }: CheckResult, unit: string): string {
  if (choice !== null) return choice;
  if (valueE3 !== null) return `${valueE3 / 1000} ${unit}`.trim();
  return `${weightsMg!.length} ${weightsMg!.length === 1 ? 'unit' : 'units'} weighed`;
}
