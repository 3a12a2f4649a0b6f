import type { BatchView } from '../../bench/bench.schema.js';
import { isBelowGood, leftOf, percentOf, targetText } from './batch-words.js';
import type { SheetProps } from './sheet-props.js';
import { WeighForm } from './weigh-form.js';
import { StepList } from '../formulas/elsewhere/cautions.js';
import { FaultNote, TextField } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { STEP_WORDS } from '../formulas/elsewhere/formula-words.js';
import { StepCautions } from './step-cautions.js';
import { exactText } from '../../ui/amounts.js';

type Line = BatchView['inputs'][number];

const action = (batch: BatchView, form: string): string => `/batches/${encodeURIComponent(batch.code)}/${form}`;

/** Lines that are still to be weighed now, in their order: what goes on after a rest waits for it. */
export function openLines(batch: BatchView): Line[] {
  const isResting = batch.status === 'resting';
  return batch.inputs.filter(
    (line) => !line.done && (line.weighed === 0 ? leftOf(line) > 0 : isBelowGood(line)) && line.afterRest === isResting,
  );
}

/** Whether anything may be weighed into the batch. */
const isOpen = ({ status, isPaused }: BatchView): boolean =>
  !isPaused && (status === 'reserved' || status === 'weighed' || status === 'resting');

/** The one step that comes next: what to fetch and where it stands, what to mind, and what the scale shows. */
export function WeighStep(props: SheetProps): JSX.Element {
  const { batch, record, said } = props;
  const open = openLines(batch);
  const asked = said.line === undefined ? undefined : batch.inputs.find(({ position }) => position === said.line);
  const line = isOpen(batch) ? (asked ?? open[0]) : undefined;
  if (!line) return <Effect {...props} />;
  const at = batch.inputs.indexOf(line);
  const next = batch.inputs.find((row, index) => index > at && open.includes(row));
  return (
    <>
      <Effect {...props} />
      <section class="card step">
        <h2 safe>{`Line ${at + 1} of ${batch.inputs.length}: ${line.name}`}</h2>
        <p class="hint" safe>{`${STEP_WORDS[line.step]}. ${line.item}`}</p>
        <p>
          <strong safe>{targetText(line)}</strong>
          {line.weighed > 0 && (
            <span
              safe
            >{`. In already: ${exactText(line.weighed, line.measure)}, left: ${exactText(leftOf(line), line.measure)}`}</span>
          )}
        </p>
        <Fetch line={line} />
        {line.advice.length > 0 && (
          <p class="note care" safe>
            {line.advice.join(' ')}
          </p>
        )}
        <StepCautions batch={batch} line={line} />
        <WeighForm {...props} line={line} />
        {!!next && (
          <p>
            <a class="button" href={`/batches/${encodeURIComponent(batch.code)}?line=${next.position}`} safe>
              {`Next: ${next.name}`}
            </a>
          </p>
        )}
        <Method steps={record.steps.filter(({ phase }) => phase === line.step)} />
      </section>
    </>
  );
}

function Method({ steps }: { steps: SheetProps['record']['steps'] }): JSX.Element {
  if (steps.length === 0) return <></>;
  return (
    <details>
      <summary>How it is done</summary>
      <StepList steps={steps} />
    </details>
  );
}

function Fetch({ line }: { line: Line }): JSX.Element {
  if (!line.stocked) return <p>It comes from the tap: no lot.</p>;
  if (line.reworkLot !== null)
    return (
      <p>
        Fetch the rejected lot <strong safe>{line.reworkLot}</strong>, which is set aside to be mended.
      </p>
    );
  if (line.done) return <></>;
  return (
    <>
      {line.reserved.length > 0 && <p>Fetch:</p>}
      <ul>
        {line.reserved.map(({ source, place, quantity }) => (
          <LotToFetch lot={source} words={[exactText(quantity, line.measure), place]} />
        ))}
      </ul>
      <Lacking line={line} />
    </>
  );
}

function LotToFetch({ lot, words }: { lot: string; words: readonly string[] }): JSX.Element {
  return (
    <li>
      <strong safe>{lot}</strong>
      <span safe>{['', ...words.filter((word) => word !== '')].join(', ')}</span>
    </li>
  );
}

/** What goes in beyond what is set aside, and of which lots it may be taken. */
function Lacking({ line }: { line: Line }): JSX.Element {
  const lacking = leftOf(line) - line.reserved.reduce((sum, { quantity }) => sum + quantity, 0);
  if (lacking <= line.tolerance) return <></>;
  if (line.fitting.length === 0)
    return (
      <p class="note care" safe>
        {`${exactText(lacking, line.measure)} of it is not set aside, and no lot that may be used has any free.`}
      </p>
    );
  return (
    <>
      <p safe>{`${exactText(lacking, line.measure)} of it is not set aside. Free is:`}</p>
      <ul>
        {line.fitting.map(({ lot, free, place }) => (
          <LotToFetch lot={lot} words={[exactText(free, line.measure), place]} />
        ))}
      </ul>
    </>
  );
}

/** What the weights so far do to the formula, where they depart from it. */
function Effect({ batch, record, refused }: SheetProps): JSX.Element {
  const { effect } = record;
  const isAtBench = batch.status === 'reserved' || batch.status === 'weighed';
  const isOff = record.lines.some((line) => line.isOff && line.step === 'make' && line.weighed > line.target);
  const over = effect.fragrances.flatMap(({ item, sharePpb, limits }) =>
    limits.filter(({ isOver }) => isOver).map(({ category, limitPpb }) => ({ item, sharePpb, category, limitPpb })),
  );
  if (!isAtBench || batch.isPaused || (!effect.canRescale && over.length === 0 && !isOff)) return <></>;
  return (
    <section class="note care">
      <h2>What the weights do to the formula</h2>
      <ul>
        {effect.lines.map(({ item, meantPpb, sharePpb }) => (
          <li safe>{`${item}: ${percentOf(sharePpb)} instead of ${percentOf(meantPpb)}`}</li>
        ))}
      </ul>
      {over.map(({ item, sharePpb, category, limitPpb }) => (
        <p>
          <span class="mark bad">over the limit</span>{' '}
          <span
            safe
          >{`${item} comes to ${percentOf(sharePpb)}; the limit recorded for ${category} is ${percentOf(limitPpb)}.`}</span>
        </p>
      ))}
      {effect.canRescale && (
        <form method="post" action={action(batch, 'rescale')}>
          <FormKey />
          <FaultNote fault={refused?.form === 'rescale' ? refused.fault : undefined} />
          <TextField
            name="why"
            form="rescale"
            label="Why it is scaled"
            value={refused?.form === 'rescale' ? refused.sent['why'] : 'weighed too much'}
          />
          <p>
            <button type="submit">Bring the rest into proportion</button>
          </p>
        </form>
      )}
    </section>
  );
}
