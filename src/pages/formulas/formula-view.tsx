import type { BookLine, BookVersion, FormulaBook } from '../../catalog/formula-book.service.js';
import type { SheetView } from '../../catalog/formulas.schema.js';
import { restWord, count } from '../../ui/words.js';
import { dayOfMoment, longDay } from '../../ui/dates.js';
import type { Cost } from '../../purchasing/costs.service.js';
import { valueOf } from '../../stock/worth.js';
import { Cautions, StepList } from './elsewhere/cautions.js';
import { type Fault, TextField } from '../../ui/form.js';
import { partText, statedText } from './elsewhere/formula-words.js';
import { Page } from '../../ui/layout.js';
import { amountText, exactText, moneyText } from '../../ui/amounts.js';
import { VersionDiff } from './version-diff.js';

/** One batch of a formula. */
export interface Batch {
  /** As it was written. */
  text: string;
  /** Null where it could not be read. */
  sheet: SheetView | null;
  /** What each item costs. */
  costs: ReadonlyMap<string, Cost>;
  fault?: Fault;
}

interface FormulaViewProps {
  book: FormulaBook;
  batch: Batch;
  currency: string;
  said?: 'kept';
}

/** One made item: what is in it, for any batch, what that costs, how it is made, and what its versions changed. */
export function FormulaView({ book, batch, currency, said }: FormulaViewProps): JSX.Element {
  const { item, shown } = book;
  return (
    <Page title={`Formula: ${item.name}`} at="/formulas">
      <h1 safe>{item.name}</h1>
      <p class="hint" safe>
        {shown ? versionText(shown) : item.code}
      </p>
      {!!said && (
        <p class="note" role="status" safe>
          {`Version ${shown?.version ?? ''} is kept. Plans use it from now on; batches made before keep theirs.`}
        </p>
      )}
      <nav class="row no-print" aria-label="This formula">
        <a class={shown ? 'button' : 'button main'} href={`/formulas/${item.code}/new`}>
          {shown ? 'Write a new version' : 'Write the first version'}
        </a>
        {!!shown && (
          <a class="button" href={sheetAddress(book, batch)}>
            Sheet to print
          </a>
        )}
        <a class="button" href={`/shelf/items/${item.code}`}>
          On the shelf
        </a>
      </nav>
      {shown ? (
        <>
          <BatchForm book={book} shown={shown} batch={batch} />
          <LinesTable shown={shown} batch={batch} currency={currency} />
          <Method book={book} shown={shown} />
          <Versions book={book} shown={shown} />
          <VersionDiff book={book} />
        </>
      ) : (
        <p class="note care">Nothing says how it is made yet, so no plan can make it.</p>
      )}
    </Page>
  );
}

function versionText(shown: BookVersion): string {
  const state = shown.withdrawn ? ', withdrawn' : shown.isCurrent ? ', the current one' : ', an older one';
  return `${shown.item}, version ${shown.version}${state}, written on ${longDay(dayOfMoment(shown.createdAt))} by ${shown.createdBy}`;
}

function sheetAddress({ item, shown }: FormulaBook, { text }: Batch): string {
  const asked = new URLSearchParams({ batch: text });
  if (shown && !shown.isCurrent) asked.set('version', String(shown.version));
  return `/formulas/${item.code}/sheet?${asked.toString()}`;
}

function BatchForm({ book, shown, batch }: { book: FormulaBook; shown: BookVersion; batch: Batch }): JSX.Element {
  const { item } = book;
  const isWeighed = item.measure === 'weighed';
  return (
    <form class="row no-print" method="get" action={`/formulas/${item.code}`}>
      {!shown.isCurrent && <input type="hidden" name="version" value={String(shown.version)} />}
      <TextField
        name="batch"
        form="batch"
        label={isWeighed ? 'Put in, such as 800 g or 5 kg' : 'For so many'}
        value={batch.text}
        fault={batch.fault}
        maxlength={40}
      />
      <button type="submit">Work it out</button>
    </form>
  );
}

function LinesTable(props: { shown: BookVersion; batch: Batch; currency: string }): JSX.Element {
  const { shown, batch, currency } = props;
  const costs = shown.lines.map((line) => costOf(line, batch));
  const known = costs.filter((cost) => cost !== null);
  const total = known.reduce((sum, cost) => sum + cost, 0);
  const unknown = shown.lines.filter((line, at) => costs[at] === null && line.stocked);
  return (
    <section>
      <h2>What is in it</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>Line</th>
            <th>Stated as</th>
            <th class="num">Part</th>
            <th class="num">For this batch</th>
            <th class="num">Cost</th>
          </tr>
        </thead>
        <tbody>
          {shown.lines.map((line, at) => (
            <tr>
              <th scope="row">
                <span safe>{`${line.line}. `}</span>
                <a href={line.kind === 'material' ? `/shelf/items/${line.item}` : `/formulas/${line.item}`} safe>
                  {line.name}
                </a>
              </th>
              <td data-label="Stated as" safe>
                {statedText(line)}
              </td>
              <td class="num" data-label="Part" safe>
                {line.partPpb === null ? 'beside' : partText(line.partPpb)}
              </td>
              <td class="num" data-label="For this batch">
                <LineAmount line={line} batch={batch} />
              </td>
              <td class="num" data-label="Cost" safe>
                {costText(costs[at] ?? null, line, currency)}
              </td>
            </tr>
          ))}
        </tbody>
        <tfoot>
          <tr>
            <th scope="row">Together</th>
            <td></td>
            <td></td>
            <td class="num" data-label="Put in" safe>
              {batch.sheet === null ? '' : amountText(batch.sheet.putInMg, 'weighed')}
            </td>
            <td class="num" data-label="Cost">
              <strong safe>{known.length === 0 ? '–' : moneyText(total, currency)}</strong>
            </td>
          </tr>
        </tfoot>
      </table>
      <p class="hint" safe>
        {costNote(shown.lines, batch, unknown)}
      </p>
    </section>
  );
}

/** Where the cost of each line is known from. */
function costNote(lines: readonly BookLine[], { costs }: Batch, unknown: readonly BookLine[]): string {
  const namesFrom = (from: Cost['from']): string =>
    [...new Set(lines.filter((line) => costs.get(line.item)?.from === from).map((line) => line.name))].join(', ');
  const [pack, formula] = [namesFrom('pack'), namesFrom('formula')];
  return [
    'Cost is at the average value of the lots on the shelf.',
    formula === '' ? '' : `There is no lot of ${formula}: at what its own formula takes, for its smallest batch.`,
    pack === '' ? '' : `There is no lot of ${pack}: at the price of the cheapest pack.`,
    unknown.length === 0
      ? ''
      : `Neither lot, pack nor formula says what ${unknown.map((line) => line.name).join(', ')} costs, so it is not in it.`,
  ]
    .filter((part) => part !== '')
    .join(' ');
}

function costOf(line: BookLine, { sheet, costs }: Batch): number | null {
  const amount = sheet?.lines.find((row) => row.line === line.line)?.amount;
  return amount === undefined ? null : valueOf(amount, costs.get(line.item));
}

function costText(cost: number | null, line: BookLine, currency: string): string {
  if (cost !== null) return moneyText(cost, currency);
  return line.stocked ? 'not known' : '–';
}

function LineAmount({ line, batch }: { line: BookLine; batch: Batch }): JSX.Element {
  const row = batch.sheet?.lines.find((one) => one.line === line.line);
  if (!row) return <>–</>;
  return (
    <>
      <span safe>{exactText(row.amount, line.measure)}</span>
      {row.flag !== null && <span class="mark care">too light for the scale</span>}
    </>
  );
}

function Method({ book, shown }: { book: FormulaBook; shown: BookVersion }): JSX.Element {
  const { item } = book;
  const facts: [string, string][] = [
    ['Made in', shown.vesselKind ?? 'no vessel'],
    ['Smallest batch', amountText(shown.batchMin, item.measure)],
    [
      'Bench time',
      `${shown.minutesBatch} min a batch${shown.secondsUnit > 0 ? `, ${shown.secondsUnit} s for each one` : ''}`,
    ],
    ['Made by', shown.skill === null ? 'anybody' : `who may do ${shown.skill}`],
    ['Lost on the way', `${partText(shown.lossPpb)}, and ${amountText(shown.residueMg, 'weighed')} stay in the vessel`],
    [
      'Then',
      shown.restDays === 0
        ? 'it is ready the same day'
        : `it ${restWord(item.family, shown.vesselKind !== null)} ${count(shown.restDays, 'day')}`,
    ],
  ];
  return (
    <section>
      <h2>How it is made</h2>
      <dl class="facts">
        {facts.map(([name, value]) => (
          <>
            <dt safe>{name}</dt>
            <dd safe>{value}</dd>
          </>
        ))}
      </dl>
      <Cautions item={item} parts={shown.lines} />
      {shown.note !== '' && <p safe>{shown.note}</p>}
      {shown.steps.length === 0 ? <p>No steps are written down.</p> : <StepList steps={shown.steps} />}
    </section>
  );
}

function Versions({ book, shown }: { book: FormulaBook; shown: BookVersion }): JSX.Element {
  const { item, versions, beside } = book;
  if (versions.length < 2) return <></>;
  const choices = (chosen: number | undefined) =>
    versions.map(({ version, createdAt, withdrawn }) => (
      <option value={String(version)} selected={version === chosen} safe>
        {`${version}, ${longDay(dayOfMoment(createdAt))}${withdrawn ? ', withdrawn' : ''}`}
      </option>
    ));
  return (
    <form class="row no-print" method="get" action={`/formulas/${item.code}`}>
      <div>
        <label for="versions-version">Version</label>
        <select id="versions-version" name="version">
          {choices(shown.version)}
        </select>
      </div>
      <div>
        <label for="versions-beside">Beside version</label>
        <select id="versions-beside" name="beside">
          {choices(beside?.version)}
        </select>
      </div>
      <button type="submit">Show them</button>
    </form>
  );
}
