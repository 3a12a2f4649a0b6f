import type { FormulaBook } from '../../catalog/formula-book.service.js';
import { STEPS } from '../../catalog/formula.entity.js';
import type { Basis } from '../../kernel/formula/formula.js';
import type { ItemView } from '../../catalog/items.schema.js';
import type { TriedOut } from '../../catalog/sheets.service.js';
import type { Cost } from '../../purchasing/costs.service.js';
import { valueOf } from '../../stock/worth.js';
import type { Fault, Sent } from '../../ui/form.js';
import { faultsByRow, filledRows, rowsOf } from './formula-draft.js';
import { BASIS_WORDS, partText, STEP_WORDS } from './elsewhere/formula-words.js';
import { exactText, moneyText } from '../../ui/amounts.js';

/** What the lines come to, or why they come to nothing. */
export type Solution = (TriedOut & { costs: ReadonlyMap<string, Cost>; fault?: undefined }) | { fault: Fault };

const BASES: Record<ItemView['kind'], readonly Basis[]> = {
  material: [],
  bulk: ['share', 'load', 'ratio', 'qs', 'fixed'],
  product: ['each', 'fixed'],
  set: ['each', 'fixed'],
};

interface LineRowsProps {
  book: FormulaBook;
  sent: Sent;
  items: readonly ItemView[];
  currency: string;
  solution?: Solution;
  fault?: Fault;
}

/** One row a line, each with what it comes to. */
export function LineRows({ book, sent, items, solution, fault, currency }: LineRowsProps): JSX.Element {
  const rows = Array.from({ length: rowsOf(sent) }, (_, at) => at + 1);
  const names = new Map(items.map(({ code, name }) => [code, name]));
  const texts = rowTexts(sent, fault ? { fault } : solution, currency);
  const isBulk = book.item.kind === 'bulk';
  return (
    <>
      <input type="hidden" name="rows" value={String(rows.length)} />
      <table class="stack lines">
        <thead>
          <tr>
            <th>Line</th>
            <th>Item</th>
            <th>Amount</th>
            <th>How it counts</th>
            {isBulk && <th>Of lines</th>}
            {isBulk && <th>Base</th>}
            <th>Step</th>
            <th>Comes to</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <LineRow
              row={row}
              sent={sent}
              book={book}
              name={names.get(sent[`item.${row}`] ?? '')}
              text={texts.get(row)}
            />
          ))}
        </tbody>
      </table>
    </>
  );
}

interface RowText {
  text: string;
  isFault: boolean;
}

function LineRow(props: {
  row: number;
  sent: Sent;
  book: FormulaBook;
  name: string | undefined;
  text: RowText | undefined;
}): JSX.Element {
  const { row, sent, book, name, text } = props;
  const { kind } = book.item;
  const of = (field: string): string => sent[`${field}.${row}`] ?? '';
  const ties = { 'aria-describedby': `solved-${row}`, 'aria-invalid': text?.isFault ? ('true' as const) : undefined };
  return (
    <tr>
      <th scope="row">{row}</th>
      <td data-label="Item">
        <input
          name={`item.${row}`}
          value={of('item')}
          list="items"
          aria-label={`Item of line ${row}`}
          maxlength="40"
          autocomplete="off"
          size="14"
          {...ties}
        />
        <div class="hint" safe>
          {name ?? ''}
        </div>
      </td>
      <td data-label="Amount">
        <input
          name={`amount.${row}`}
          value={of('amount')}
          aria-label={`Amount of line ${row}`}
          maxlength="40"
          autocomplete="off"
          size="6"
          {...ties}
        />
      </td>
      <td data-label="How it counts">
        <select name={`basis.${row}`} aria-label={`How line ${row} counts`}>
          {BASES[kind].map((basis) => (
            <option value={basis} selected={basis === of('basis')} safe>
              {BASIS_WORDS[basis]}
            </option>
          ))}
        </select>
      </td>
      {kind === 'bulk' && <PartCells row={row} of={of} />}
      <td data-label="Step">
        <select name={`step.${row}`} aria-label={`Step of line ${row}`}>
          {stepsOf(kind).map((step) => (
            <option value={step} selected={step === of('step')} safe>
              {STEP_WORDS[step]}
            </option>
          ))}
        </select>
      </td>
      <td data-label="Comes to">
        <RowResult row={row} text={text} />
      </td>
    </tr>
  );
}

/** What only a part of the whole has: the lines it counts on, and whether fragrance counts on it. */
function PartCells({ row, of }: { row: number; of: (field: string) => string }): JSX.Element {
  return (
    <>
      <td data-label="Of lines">
        <input
          name={`of.${row}`}
          value={of('of')}
          aria-label={`Lines that line ${row} counts on`}
          maxlength="40"
          autocomplete="off"
          size="4"
        />
      </td>
      <td data-label="Base">
        <input
          type="checkbox"
          name={`base.${row}`}
          value="yes"
          checked={of('base') === 'yes'}
          aria-label={`Line ${row} is base`}
        />
      </td>
    </>
  );
}

/** The step a line has when none is chosen comes first. */
function stepsOf(kind: ItemView['kind']): (typeof STEPS)[number][] {
  if (kind === 'set') return ['pack'];
  return kind === 'product' ? ['fill', 'pack', 'make'] : [...STEPS];
}

export function RowResult({
  row,
  text,
  isUpdate,
}: {
  row: number;
  text: RowText | undefined;
  isUpdate?: boolean;
}): JSX.Element {
  return (
    <span
      id={`solved-${row}`}
      class={text?.isFault ? 'fault' : 'solved'}
      hx-swap-oob={isUpdate ? 'true' : undefined}
      safe
    >
      {text?.text ?? ''}
    </span>
  );
}

/** What each filled row comes to, or what is wrong with it. */
export function rowTexts(sent: Sent, solution: Solution | undefined, currency: string): Map<number, RowText> {
  const texts = new Map<number, RowText>();
  if (!solution) return texts;
  if (solution.fault) {
    for (const [row, text] of faultsByRow(sent, solution.fault)) texts.set(row, { text, isFault: true });
    return texts;
  }
  filledRows(sent).forEach((row, at) => {
    const line = solution.sheet.lines[at]!;
    const ppb = solution.partsPpb[at] ?? null;
    const cost = valueOf(line.amount, solution.costs.get(line.item));
    const parts = [
      ppb === null ? '' : partText(ppb),
      exactText(line.amount, solution.measures[at]!),
      cost === null ? 'no cost known' : moneyText(cost, currency),
    ];
    texts.set(row, { text: parts.filter((part) => part !== '').join(', '), isFault: false });
  });
  return texts;
}
