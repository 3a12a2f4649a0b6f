import type { BatchView } from '../../bench/bench.schema.js';
import { Acts } from './batch-acts.js';
import { WeighStep } from './batch-weigh.js';
import { goodOf, isBelowGood, outputText, stateOf } from './batch-words.js';
import { FreedNote } from '../shelf/elsewhere/freed.js';
import { Page } from '../../ui/layout.js';
import { exactText } from '../../ui/amounts.js';
import { longDay } from '../../ui/dates.js';
import { sentence, washText, whoMayText } from '../../ui/words.js';
import { LotLinks } from './elsewhere/on-hold.js';
import { BATCH_SAID, type SheetProps } from './sheet-props.js';

const SAID_WORDS: Record<(typeof BATCH_SAID)[number], string> = {
  weighed: 'It is written down.',
  rescaled: 'The rest of the batch is brought into proportion. What was meant first is kept in the record.',
  paused: 'The batch is paused. Anybody can take it up again, on any device.',
  resumed: 'The batch goes on.',
  finished: 'The batch is closed. What it made waits for its release.',
  released: 'The batch is released, and its lot may be used and sold.',
  rejected: 'The batch is rejected.',
  'worked-in': 'The rejected lot is worked in.',
  mending: 'This batch mends the rejected lot.',
  'taken-back': 'The entry is taken back, and both stay in the record. Weigh it anew.',
};

/** The batch sheet: what it is, the one step that comes next, the other acts in folds, and all lines below. */
export function BatchSheet(props: SheetProps): JSX.Element {
  const { batch, said, today } = props;
  const [mark, words] = stateOf(batch, today);
  return (
    <Page title={`Batch ${batch.code}`} at="/bench">
      <h1 safe>{batch.name}</h1>
      <p>
        <span safe>{`Batch ${batch.code}, ${outputText(batch.made ?? batch.output, batch.measure)}, `}</span>
        <span safe>{`${longDay(batch.day)}, in ${batch.vessel ?? 'no vessel'}. `}</span>
        <span class={`mark ${mark}`} safe>
          {words}
        </span>
      </p>
      {!!batch.wash && isToBegin(batch) && (
        <p class="note" safe>
          {washText(batch.wash, batch.vessel!)}
        </p>
      )}
      {batch.mayMake !== null && isToBegin(batch) && (
        <p class={batch.mayMake.length === 0 ? 'note bad' : 'note'} safe>
          {sentence(whoMayText(batch.mayMake))}
        </p>
      )}
      <HeldNotes batch={batch} />
      {!!said.said && (
        <p class="note" role="status" safe>
          {SAID_WORDS[said.said]}
        </p>
      )}
      <FreedNote freed={said.freed} />
      <WeighStep {...props} />
      <Acts {...props} />
      <Lines {...props} />
      <p class="row">
        <a class="button" href={`/batches/${encodeURIComponent(batch.code)}/sheet`}>
          Its sheet to print
        </a>
        <a class="button" href={`/batches/${encodeURIComponent(batch.code)}/record`}>
          The whole record
        </a>
        <a class="button" href="/bench">
          Back to the bench
        </a>
      </p>
      <script src="/assets/unsent.js" type="module"></script>
    </Page>
  );
}

/** Each lot on hold that the batch needs: what it is to it, and what to do. */
function HeldNotes({ batch }: { batch: BatchView }): JSX.Element {
  const isIn = (lot: string) => batch.inputs.some(({ lots }) => lots.some((used) => used.lot === lot));
  return (
    <>
      {batch.onHold.map((lot) => (
        <p class="note bad">
          <strong safe>{`Lot ${lot} is on hold. `}</strong>
          <span>
            {isIn(lot)
              ? 'It is in this batch: decide about it before the batch goes on: '
              : 'It was set aside for this batch and no longer is: weigh of another lot, or decide about it: '}
          </span>
          <LotLinks lots={[lot]} />
        </p>
      ))}
    </>
  );
}

/** Until anything is in, its vessel is still to be washed, and somebody is still to make it. */
const isToBegin = ({ status, inputs }: BatchView): boolean =>
  (status === 'planned' || status === 'reserved') && inputs.every(({ weighed }) => weighed === 0);

/** All lines with what is in, so that one sees how far it is and can go to any of them. */
function Lines({ batch }: SheetProps): JSX.Element {
  return (
    <section>
      <h2>All lines</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>What</th>
            <th class="num">To go in</th>
            <th class="num">Is in</th>
            <th>State</th>
          </tr>
        </thead>
        <tbody>
          {batch.inputs.map((line) => (
            <tr>
              <th scope="row">
                <a href={`/batches/${encodeURIComponent(batch.code)}?line=${line.position}`} safe>
                  {`${line.position}. ${line.name}`}
                </a>
              </th>
              <td class="num" data-label="To go in" safe>
                {exactText(line.quantity, line.measure)}
              </td>
              <td class="num" data-label="Is in" safe>
                {exactText(line.weighed, line.measure)}
              </td>
              <td data-label="State">
                <LineState line={line} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </section>
  );
}

function LineState({ line }: { line: BatchView['inputs'][number] }): JSX.Element {
  if (line.weighed === 0) return <span class="mark care">{line.done ? 'left out' : 'to do'}</span>;
  if (line.weighed > goodOf(line).most) return <span class="mark bad">too much</span>;
  if (isBelowGood(line))
    return <span class={`mark ${line.done ? 'bad' : 'care'}`}>{line.done ? 'too little' : 'begun'}</span>;
  return <span class="mark good">in</span>;
}
