import { Get, Param, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { type FormulaBook, FormulaBookService, type MadeItemRow } from '../../catalog/formula-book.service.js';
import type { SheetView as Sheet } from '../../catalog/formulas.schema.js';
import { SheetsService } from '../../catalog/sheets.service.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { printQuantity } from '../../kernel/measure/quantity.js';
import { dayOfMoment, longDay } from '../../ui/dates.js';
import { notFound } from '../../platform/problem.js';
import { itemCode, lineOfText } from '../../platform/schema.js';
import { CostsService } from '../../purchasing/costs.service.js';
import { blankIsNone, type Fault, faultOf, writtenAmount } from '../../ui/form.js';
import { type Batch, FormulaView } from './formula-view.js';
import { Page } from '../../ui/layout.js';
import { SheetPaper } from './sheet-paper.js';
import { FAMILY_WORDS } from '../shelf/elsewhere/shelf-words.js';
import { count } from '../../ui/words.js';
import { PageController } from '../../ui/page-controller.js';

const listQuery = z.strictObject({ search: blankIsNone(lineOfText(200)), after: blankIsNone(itemCode) });
type ListQuery = z.infer<typeof listQuery>;
const itemPath = z.strictObject({ item: itemCode });
const versionNumber = z.coerce.number().int().min(1).max(1_000_000);
const bookQuery = z.strictObject({
  batch: blankIsNone(z.string().trim().max(40)),
  version: blankIsNone(versionNumber),
  beside: blankIsNone(versionNumber),
  said: z.enum(['kept']).optional(),
});
type BookQuery = z.infer<typeof bookQuery>;

/** Formulas: what is in what is made, for any batch, and how it came to be so. */
@PageController('formulas')
export class FormulasPage {
  constructor(
    private readonly books: FormulaBookService,
    private readonly sheets: SheetsService,
    private readonly costs: CostsService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  async list(@Query({ schema: listQuery }) query: ListQuery) {
    return <ListView query={query} {...await this.books.list(query)} />;
  }

  @Get(':item')
  async book(
    @Param({ schema: itemPath }) { item }: z.infer<typeof itemPath>,
    @Query({ schema: bookQuery }) query: BookQuery,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const book = await this.books.book(item, query);
    const { currency } = await this.workshop.get();
    const batch = await this.batchOf(book, query.batch, reply);
    return <FormulaView {...{ book, batch, currency, said: query.said }} />;
  }

  /** The sheet of one batch, to print and take to the bench. */
  @Get(':item/sheet')
  async sheet(
    @Param({ schema: itemPath }) { item }: z.infer<typeof itemPath>,
    @Query({ schema: bookQuery }) query: BookQuery,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const book = await this.books.book(item, query);
    if (!book.shown) throw notFound('formula of', item);
    const batch = await this.batchOf(book, query.batch, reply);
    return <SheetPaper {...{ book, shown: book.shown, batch }} />;
  }

  /** What a batch takes and costs: of the size asked for, else the smallest that is made. */
  private async batchOf(book: FormulaBook, asked: string | undefined, reply: FastifyReply): Promise<Batch> {
    const { shown, item } = book;
    const text = asked ?? (shown ? printQuantity(shown.batchMin, item.measure) : '');
    if (!shown) return { text, sheet: null, costs: new Map() };
    const costs = await this.costs.of(shown.lines.map((line) => line.item));
    let sheet: Sheet | null = null;
    let fault: Fault | undefined;
    try {
      sheet = await this.sheets.scale(shown.id, { batch: writtenAmount(text, item.measure === 'weighed') });
    } catch (error) {
      fault = faultOf(error, reply);
    }
    return { text, sheet, costs, fault };
  }
}

function ListView(props: { query: ListQuery; rows: readonly MadeItemRow[]; next: string | null }): JSX.Element {
  const { query, rows, next } = props;
  const address = (after: string | null): string => {
    const asked = new URLSearchParams();
    if (query.search) asked.set('search', query.search);
    if (after) asked.set('after', after);
    return asked.size > 0 ? `/formulas?${asked.toString()}` : '/formulas';
  };
  return (
    <Page title="Formulas" at="/formulas">
      <h1>Formulas</h1>
      <form class="row no-print" method="get" action="/formulas">
        <div>
          <label for="filter-search">Name or code</label>
          <input id="filter-search" name="search" value={query.search ?? ''} maxlength="200" autocomplete="off" />
        </div>
        <button type="submit">Show</button>
      </form>
      {rows.length === 0 ? (
        <div class="note none">
          <p>
            <strong>{query.search ? 'Nothing made here is called that.' : 'Nothing is made here yet.'}</strong>
          </p>
          <p>
            {query.search ? (
              <a href="/formulas">Show everything.</a>
            ) : (
              <a href="/start">Begin with the first formula.</a>
            )}
          </p>
        </div>
      ) : (
        <table class="stack dense">
          <thead>
            <tr>
              <th>What is made</th>
              <th>Family</th>
              <th>Version</th>
              <th class="num">Lines</th>
              <th class="num">Rests</th>
              <th>Written</th>
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <MadeRow row={row} />
            ))}
          </tbody>
        </table>
      )}
      <nav class="row no-print" aria-label="Pages of formulas">
        {!!query.after && (
          <a class="button" href={address(null)}>
            From the start
          </a>
        )}
        {!!next && (
          <a class="button" href={address(next)}>
            Next formulas
          </a>
        )}
      </nav>
    </Page>
  );
}

function MadeRow({ row }: { row: MadeItemRow }): JSX.Element {
  const written = row.createdAt === null ? '–' : `${longDay(dayOfMoment(row.createdAt))}, ${row.createdBy ?? ''}`;
  return (
    <tr>
      <th scope="row">
        <a href={`/formulas/${row.code}`} safe>
          {row.name}
        </a>
        <div class="hint" safe>
          {row.code}
        </div>
      </th>
      <td data-label="Family" safe>
        {FAMILY_WORDS[row.family]}
      </td>
      <td data-label="Version">
        {row.version === null ? (
          <span class="mark bad">no formula</span>
        ) : (
          <span safe>{row.versions > 1 ? `${row.version} of ${row.versions}` : String(row.version)}</span>
        )}
      </td>
      <td class="num" data-label="Lines">
        {row.lines}
      </td>
      <td class="num" data-label="Rests" safe>
        {row.restDays === null || row.restDays === 0 ? '–' : count(row.restDays, 'day')}
      </td>
      <td data-label="Written" safe>
        {written}
      </td>
    </tr>
  );
}
