import type { BookVersion, FormulaBook } from '../../catalog/formula-book.service.js';
import type { SheetView } from '../../catalog/formulas.schema.js';
import { restWord, count } from '../../ui/words.js';
import { Cautions, StepList } from './elsewhere/cautions.js';
import { TextField } from '../../ui/form.js';
import type { Batch } from './formula-view.js';
import { STEP_WORDS } from './elsewhere/formula-words.js';
import { Page } from '../../ui/layout.js';
import { amountText, besideUs, exactText } from '../../ui/amounts.js';

interface SheetPaperProps {
  book: FormulaBook;
  shown: BookVersion;
  batch: Batch;
}

/** One batch on one page: what to weigh at the scale's own step, room to write what was weighed, steps and cautions. */
export function SheetPaper({ book, shown, batch }: SheetPaperProps): JSX.Element {
  const { item } = book;
  const { sheet } = batch;
  return (
    <Page title={`Sheet: ${item.name}`} at="/formulas">
      <div class="paper">
        <h1 safe>{item.name}</h1>
        <form class="row no-print" method="get" action={`/formulas/${item.code}/sheet`}>
          {!shown.isCurrent && <input type="hidden" name="version" value={String(shown.version)} />}
          <TextField
            name="batch"
            form="sheet"
            label={item.measure === 'weighed' ? 'Put in, such as 800 g or 5 kg' : 'How many'}
            value={batch.text}
            fault={batch.fault}
            maxlength={40}
          />
          <button type="submit">Work it out</button>
          <button type="button" data-prints hidden>
            Print it
          </button>
          <a class="button" href={`/formulas/${item.code}`}>
            Back to the formula
          </a>
          <script src="/assets/copy.js" type="module"></script>
        </form>
        {sheet ? (
          <Paper item={item} shown={shown} sheet={sheet} />
        ) : (
          <p class="note bad">There is no sheet for this batch.</p>
        )}
      </div>
    </Page>
  );
}

function Paper(props: { item: FormulaBook['item']; shown: BookVersion; sheet: SheetView }): JSX.Element {
  const { item, shown, sheet } = props;
  const out = `${amountText(sheet.output, item.measure)} to come out`;
  const rest =
    shown.restDays === 0
      ? 'ready the same day'
      : `then ${restWord(item.family, shown.vesselKind !== null)} ${count(shown.restDays, 'day')}`;
  return (
    <>
      <p safe>
        {`${item.code}, version ${shown.version}. ${amountText(sheet.putInMg, 'weighed')} to put in, ${out}, ${rest}. Weighed in steps of ${exactText(sheet.scaleStepMg, 'weighed')}.`}
      </p>
      <p class="blanks">
        <span>Batch</span>
        <span>Day</span>
        <span>Vessel</span>
        <span>Who</span>
      </p>
      <Cautions item={item} parts={shown.lines} />
      <div class="scroll" tabindex="0" role="region" aria-label="What to weigh">
        <table class="weigh">
          <thead>
            <tr>
              <th>Step</th>
              <th>What</th>
              <th class="num">Target</th>
              <th>Lot</th>
              <th>Weighed</th>
            </tr>
          </thead>
          <tbody>
            {sheet.lines.map((line) => (
              <tr>
                <td safe>{STEP_WORDS[line.step]}</td>
                <th scope="row">
                  <span safe>{line.name}</span>
                  <div class="hint" safe>
                    {line.item}
                  </div>
                </th>
                <td class="num">
                  <strong safe>{targetText(line, shown)}</strong>
                  {line.flag !== null && (
                    <div>
                      <span class="mark care">see below</span>
                    </div>
                  )}
                </td>
                <td class="blank"></td>
                <td class="blank"></td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <TooLight sheet={sheet} />
      {shown.steps.length > 0 && (
        <>
          <h2>Steps</h2>
          <StepList steps={shown.steps} />
        </>
      )}
      {shown.note !== '' && <p safe>{shown.note}</p>}
    </>
  );
}

function targetText({ item, text, amount }: SheetView['lines'][number], shown: BookVersion): string {
  const isWeighed = shown.lines.some((line) => line.item === item && line.measure === 'weighed');
  return isWeighed ? besideUs(text, amount, 3) : text;
}

const FLAG_WORDS: Record<NonNullable<SheetView['lines'][number]['flag']>, string> = {
  'below-smallest': 'is lighter than the scale weighs well',
  'finer-scale-needed': "cannot be held at the scale's step, so the sheet has a finer one",
  'not-weighable': 'cannot be weighed at all at this size',
};

function TooLight({ sheet }: { sheet: SheetView }): JSX.Element {
  const light = sheet.lines.filter((line) => line.flag !== null);
  if (light.length === 0) return <></>;
  return (
    <div class="note care">
      {light.map((line) => (
        <p>
          <strong safe>{line.name}</strong>{' '}
          <span safe>{`${FLAG_WORDS[line.flag!]}. ${line.advice.join(' Or: ')}`}</span>
        </p>
      ))}
    </div>
  );
}
