import { Get, HttpCode, Param, Post, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { FormulaBookService } from '../../catalog/formula-book.service.js';
import { formulaCreate, lineInput } from '../../catalog/formulas.schema.js';
import { FormulasService } from '../../catalog/formulas.service.js';
import type { ItemView } from '../../catalog/items.schema.js';
import { ItemsService } from '../../catalog/items.service.js';
import { SheetsService } from '../../catalog/sheets.service.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { PeopleService } from '../../people/people.service.js';
import { itemCode } from '../../platform/schema.js';
import { CostsService } from '../../purchasing/costs.service.js';
import { bodyOf, type Fault, faultOf, goTo, type Sent, written, writtenAmount } from '../../ui/form.js';
import { draftOf, filledRows, formulaOf, linesOf, ROWS_MAX, rowsOf, SPARE_ROWS } from './formula-draft.js';
import { CODES_MAX } from '../../ui/codes-list.js';
import { FormulaForm, Solved } from './formula-form.js';
import type { Solution } from './formula-rows.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const itemPath = z.strictObject({ item: itemCode });
type ItemPath = z.infer<typeof itemPath>;
const tried = z.strictObject({ lines: z.array(lineInput).min(1, 'Write at least one line.').max(ROWS_MAX) });

/** Writing a formula: what its lines come to is shown as they are typed, or by a button. */
@PageController('formulas/:item/new')
export class FormulaNewPage {
  constructor(
    private readonly books: FormulaBookService,
    private readonly formulas: FormulasService,
    private readonly sheets: SheetsService,
    private readonly items: ItemsService,
    private readonly costs: CostsService,
    private readonly workshop: WorkshopService,
    private readonly people: PeopleService,
  ) {}

  @Get()
  async start(@Param({ schema: itemPath }) { item }: ItemPath, @Res({ passthrough: true }) reply: FastifyReply) {
    const sent = draftOf(await this.books.book(item));
    const made = await this.items.get(item);
    const solution = filledRows(sent).length > 0 ? await this.solve(made, sent, reply) : undefined;
    return this.form(item, sent, { solution });
  }

  /** Keeps the version, or works it out, or adds rows: which of them, the button says that was pressed. */
  @Post()
  @HttpCode(200)
  async send(@Filled(itemPath) { who, path: { item }, sent, reply }: Filled<typeof itemPath>) {
    const made = await this.items.get(item);
    if (sent['do'] === 'more') {
      const rows = String(Math.min(ROWS_MAX, rowsOf(sent) + SPARE_ROWS));
      return this.form(item, { ...sent, rows }, {});
    }
    if (sent['do'] !== 'keep') return this.form(item, sent, { solution: await this.solve(made, sent, reply) });
    try {
      await this.formulas.create(who, item, bodyOf(formulaCreate, formulaOf(sent, made.measure === 'weighed')));
      return goTo(reply, `/formulas/${item}`, { said: 'kept' });
    } catch (error) {
      return this.form(item, sent, { fault: faultOf(error, reply) });
    }
  }

  /** Only what the lines come to, as they are typed. A formula that is wrong halfway is no error: it is being written. */
  @Post('solution')
  @HttpCode(200)
  async solution(@Filled(itemPath) { path: { item }, sent, reply }: Filled<typeof itemPath>) {
    const solution = await this.solve(await this.items.get(item), sent, reply);
    void reply.status(200);
    return <Solved sent={sent} solution={solution} currency={(await this.workshop.get()).currency} isUpdate />;
  }

  private async solve(made: ItemView, sent: Sent, reply: FastifyReply): Promise<Solution> {
    const isWeighed = made.measure === 'weighed';
    try {
      const { lines } = bodyOf(tried, { lines: linesOf(sent) });
      const batch = writtenAmount(written(sent, 'batch') ?? (isWeighed ? '1 kg' : '1'), isWeighed);
      const out = await this.sheets.tryOut(made.code, { lines, batch });
      return { ...out, costs: await this.costs.of(out.sheet.lines.map((line) => line.item)) };
    } catch (error) {
      return { fault: faultOf(error, reply) };
    }
  }

  private async form(item: string, sent: Sent, came: { solution?: Solution; fault?: Fault }) {
    const book = await this.books.book(item);
    const { items } = await this.items.list({ limit: CODES_MAX });
    const { vessels } = await this.workshop.vessels();
    const { currency } = await this.workshop.get();
    const kinds = [...new Set(vessels.map(({ kind }) => kind))].sort();
    const { people } = await this.people.list();
    const skills = [...new Set(people.flatMap((person) => person.skills))].sort();
    return <FormulaForm {...{ book, sent, items, kinds, skills, currency, ...came }} />;
  }
}
