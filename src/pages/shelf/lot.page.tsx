import { Body, Get, Param, Post, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { Who } from '../../platform/person.js';
import { lineOfText } from '../../platform/schema.js';
import { countCreate, dateCorrectionCreate, issue, retestCreate, splitCreate } from '../../stock/acts.schema.js';
import { CountService } from '../../stock/count.service.js';
import { HoldService } from '../../stock/hold.service.js';
import { IssueService } from '../../stock/issue.service.js';
import { type LotBook, LotBookService } from '../../trace/lot-book.service.js';
import { RetestService } from '../../stock/retest.service.js';
import { SetAsideService } from '../../batches/set-aside.service.js';
import { SplitService } from '../../stock/split.service.js';
import type { BrokenPromise } from '../../stock/stock.schema.js';
import { statusChange } from '../../stock/stock.schema.js';
import { bodyOf, faultOf, goTo, type Sent, written, writtenAmount } from '../../ui/form.js';
import { freedForAddress, freedQuery } from './elsewhere/freed.js';
import { LotView } from './lot-view.js';
import { LOT_SAID, type LotForm, type LotSaid } from './lot-props.js';
import { TAKEN_OUT } from './elsewhere/shelf-words.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const lotPath = z.strictObject({ code: lineOfText(80) });
type LotPath = z.infer<typeof lotPath>;

const lotQuery = z.strictObject({
  page: z.coerce.number().int().min(1).max(10_000).default(1),
  said: z.enum(LOT_SAID).optional(),
  freed: freedQuery,
  part: lineOfText(80).optional(),
  difference: z.coerce.number().int().optional(),
});

const takeOut = issue.extend({ as: z.enum(TAKEN_OUT) });
const freeForm = z.strictObject({ reservation: z.coerce.number().int().positive() });

/** One lot: what it is, whom it is set aside for, what happened to it, and what may be done with it. */
@PageController('shelf/lots/:code')
export class LotPage {
  constructor(
    private readonly books: LotBookService,
    private readonly issues: IssueService,
    private readonly counts: CountService,
    private readonly holds: HoldService,
    private readonly splits: SplitService,
    private readonly retests: RetestService,
    private readonly setAsides: SetAsideService,
    private readonly workshop: WorkshopService,
  ) {}

  @Get()
  async show(
    @Param({ schema: lotPath }) { code }: LotPath,
    @Query({ schema: lotQuery }) said: z.infer<typeof lotQuery>,
  ) {
    const book = await this.books.book(code, said.page);
    const { currency } = await this.workshop.get();
    return <LotView book={book} said={said} currency={currency} />;
  }

  @Post('take-out')
  takeOut(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'take-out', sent, reply }, async (book) => {
      const { as, ...body } = bodyOf(takeOut, {
        as: written(sent, 'as'),
        quantity: amountIn(sent, 'quantity', book),
        reason: written(sent, 'reason'),
      });
      const { freed } = await this.issues.issue(who, as, code, body);
      return { said: 'taken-out', freed };
    });
  }

  @Post('count')
  count(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'count', sent, reply }, async (book) => {
      const lots = [{ lot: code, counted: amountIn(sent, 'counted', book) }];
      const done = await this.counts.count(who, bodyOf(countCreate, { reason: written(sent, 'reason'), lots }));
      const { difference, freed } = done.lots[0]!;
      return { said: 'counted', freed, difference: String(difference) };
    });
  }

  @Post('decide')
  decide(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'decide', sent, reply }, async () => {
      const body = bodyOf(statusChange, { to: written(sent, 'to'), why: written(sent, 'why') });
      const { freed } = await this.holds.changeStatus(who, code, body);
      return { said: 'decided', freed };
    });
  }

  @Post('split')
  split(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'split', sent, reply }, async (book) => {
      const body = bodyOf(splitCreate, {
        quantity: amountIn(sent, 'quantity', book),
        place: written(sent, 'place'),
        reason: written(sent, 'reason'),
        status: sent['held'] === 'yes' ? 'held' : 'same',
      });
      const { part, freed } = await this.splits.split(who, code, body);
      return { said: 'split', freed, part: part.code };
    });
  }

  @Post('examine')
  examine(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'examine', sent, reply }, async () => {
      const body = bodyOf(retestCreate, { newDate: written(sent, 'newDate'), evidence: written(sent, 'evidence') });
      const { freed } = await this.retests.retest(who, code, body);
      return { said: 'examined', freed };
    });
  }

  @Post('date')
  correctDate(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    return this.act({ code, form: 'date', sent, reply }, async () => {
      const expiresOn = written(sent, 'expiresOn') ?? null;
      const body = bodyOf(dateCorrectionCreate, { expiresOn, reason: written(sent, 'reason') });
      const { freed } = await this.retests.correctDate(who, code, body);
      return { said: 'date-right', freed };
    });
  }

  /** Gives back one thing it is set aside for; the next plan sees the need again. */
  @Post('give-back')
  async giveBack(
    @Who() who: string,
    @Param({ schema: lotPath }) { code }: LotPath,
    @Body({ schema: freeForm }) { reservation }: z.infer<typeof freeForm>,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    await this.setAsides.free(who, reservation, {});
    return goTo(reply, addressOf(code), { said: 'given-back' });
  }

  /** Does what a form asks and goes to the page that says what came of it; a form at fault is shown again as it was. */
  private async act(
    asked: { code: string; form: LotForm; sent: Sent; reply: FastifyReply },
    work: (book: LotBook) => Promise<Done>,
  ) {
    const { code, form, sent, reply } = asked;
    const book = await this.books.book(code, 1);
    try {
      const { freed, ...said } = await work(book);
      const { measure } = book.item;
      return goTo(reply, addressOf(code), {
        ...said,
        freed: freedForAddress(freed.map((row) => ({ ...row, measure }))),
      });
    } catch (error) {
      const fault = faultOf(error, reply);
      const { currency } = await this.workshop.get();
      return <LotView book={book} said={{ page: 1 }} currency={currency} refused={{ form, sent, fault }} />;
    }
  }
}

interface Done {
  said: NonNullable<LotSaid['said']>;
  freed: readonly BrokenPromise[];
  part?: string;
  difference?: string;
}

const addressOf = (code: string): string => `/shelf/lots/${encodeURIComponent(code)}`;

const amountIn = (sent: Sent, name: string, book: LotBook): string =>
  writtenAmount(written(sent, name), book.item.measure === 'weighed');
