import { longDay } from '../../ui/dates.js';
import type { BatchView } from '../../bench/bench.schema.js';
import type { BatchRecord } from '../../bench/record.schema.js';
import { outputText, targetText } from './batch-words.js';
import { Cautions, StepList } from '../formulas/elsewhere/cautions.js';
import { Page } from '../../ui/layout.js';
import { exactText } from '../../ui/amounts.js';
import { sentence, washText, whoMayText } from '../../ui/words.js';

type Line = BatchView['inputs'][number];

/** A batch to make from paper: what to fetch, what to weigh, and room to write what the scale showed. */
export function BatchPaper({ batch, record }: { batch: BatchView; record: BatchRecord }): JSX.Element {
  const { code, name, item, output, measure, day, readyOn, vessel, formulaVersion, inputs } = batch;
  const ready = readyOn > day ? `, ready ${longDay(readyOn)}` : '';
  return (
    <Page title={`Sheet of batch ${code}`} at="/bench">
      <div class="paper">
        <h1 safe>{`Batch ${code}: ${name}`}</h1>
        <p class="row no-print">
          <button type="button" data-prints hidden>
            Print it
          </button>
          <a class="button" href={`/batches/${encodeURIComponent(code)}`}>
            Back to the batch
          </a>
          <script src="/assets/copy.js" type="module"></script>
        </p>
        <p safe>
          {`${outputText(output, measure)} of ${item}, formula version ${formulaVersion}. ${longDay(day)}${vessel === null ? '' : `, in ${vessel}`}${ready}.`}
        </p>
        <WashFirst batch={batch} />
        <WhoMay batch={batch} />
        <Cautions item={batch} parts={inputs} />
        <h2>What goes in</h2>
        <table class="stack">
          <thead>
            <tr>
              <th>What</th>
              <th>To go in</th>
              <th>Fetch</th>
              <th>Lot, and what the scale showed</th>
              <th>Who</th>
            </tr>
          </thead>
          <tbody>
            {inputs.map((line) => (
              <tr>
                <th scope="row" safe>{`${line.position}. ${line.name}`}</th>
                <td data-label="To go in" safe>
                  {targetText(line)}
                </td>
                <td data-label="Fetch" safe>
                  {fetchText(line)}
                </td>
                <td data-label="Lot, and what the scale showed" class="blank" safe>
                  {line.lots.map(({ lot, quantity }) => `${lot}: ${exactText(quantity, line.measure)}`).join(', ')}
                </td>
                <td data-label="Who" class="blank"></td>
              </tr>
            ))}
          </tbody>
        </table>
        {inputs.flatMap(({ advice, name: what }) =>
          advice.length > 0 ? [<p class="note care" safe>{`${what}: ${advice.join(' ')}`}</p>] : [],
        )}
        {record.steps.length > 0 && (
          <>
            <h2>How it is done</h2>
            <StepList steps={record.steps} />
          </>
        )}
        <h2>Closing</h2>
        <p class="blank">
          {measure === 'counted' ? 'Pieces made' : 'Weight of what was made'}: ______________ Left over: ______________
          Why more or less was lost: ______________________________
        </p>
      </div>
    </Page>
  );
}

/** Before anything is weighed. */
function WashFirst({ batch: { wash, vessel } }: { batch: BatchView }): JSX.Element {
  if (!wash) return <></>;
  return (
    <p>
      <strong safe>{washText(wash, vessel!)}</strong>
    </p>
  );
}

/** Where not all may make it. */
function WhoMay({ batch: { mayMake } }: { batch: BatchView }): JSX.Element {
  if (mayMake === null) return <></>;
  return (
    <p>
      <strong safe>{sentence(whoMayText(mayMake))}</strong>
    </p>
  );
}

function fetchText({ stocked, reworkLot, reserved, measure }: Line): string {
  if (!stocked) return 'from the tap';
  if (reworkLot !== null) return `the rejected lot ${reworkLot}`;
  if (reserved.length === 0) return '';
  return reserved
    .map(
      ({ source, place, quantity }) => `${source}${place === '' ? '' : ` (${place})`}: ${exactText(quantity, measure)}`,
    )
    .join('; ');
}
