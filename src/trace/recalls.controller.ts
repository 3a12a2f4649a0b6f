import { Body, Controller, Get, HttpCode, Param, Post, Query, Res } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { pdfHeaders } from '../platform/pdf.js';
import { Who } from '../platform/person.js';
import { DrillService } from './drill.service.js';
import { PapersService } from './papers.service.js';
import { RecallHoldsService } from './recall-holds.service.js';
import {
  answerCreate,
  drillCreate,
  holdEffects,
  lettersCreate,
  lettersDone,
  lifted,
  recallCode,
  recallCreate,
  recallEntryCreate,
  recallListView,
  recallPage,
  recallQuery,
  recallView,
  recallWhy,
} from './recall.schema.js';
import type {
  AnswerCreate,
  DrillCreate,
  HoldEffects,
  LettersCreate,
  LettersDone,
  Lifted,
  RecallCreate,
  RecallEntryCreate,
  RecallListView,
  RecallPage,
  RecallQuery,
  RecallView,
  RecallWhy,
} from './recall.schema.js';
import { RecallsService } from './recalls.service.js';

const lettersQuery = z.strictObject({ only: z.enum(['open', 'all']).default('open') });
const PDF = { content: { 'application/pdf': { schema: { type: 'string' as const, format: 'binary' } } } };

@ApiTags('trace')
@Controller('api')
export class RecallsController {
  constructor(
    private readonly recalls: RecallsService,
    private readonly holds: RecallHoldsService,
    private readonly papers: PapersService,
    private readonly drills: DrillService,
  ) {}

  @Get('recalls')
  @ApiOperation({ summary: 'Recalls and drills by code, one page at a time' })
  @ApiOkResponse({ standardSchema: recallPage })
  list(@Query({ schema: recallQuery }) query: RecallQuery): Promise<RecallPage> {
    return this.recalls.list(query);
  }

  @Post('recalls')
  @ApiOperation({ summary: 'Open a recall of a lot and everything it reached' })
  @ApiCreatedResponse({ standardSchema: recallView })
  open(@Who() who: string, @Body({ schema: recallCreate }) body: RecallCreate): Promise<RecallView> {
    return this.recalls.open(who, body);
  }

  @Post('drills')
  @ApiOperation({ summary: 'Practise on a lot drawn at random: nothing is held and nobody written to' })
  @ApiCreatedResponse({ standardSchema: recallView })
  drill(@Who() who: string, @Body({ schema: drillCreate }) body: DrillCreate): Promise<RecallView> {
    return this.drills.drill(who, body);
  }

  @Get('recalls/:code')
  @ApiOperation({ summary: 'One recall: scope, timeline, progress' })
  @ApiOkResponse({ standardSchema: recallView })
  get(@Param('code', { schema: recallCode }) code: string): Promise<RecallView> {
    return this.recalls.get(code);
  }

  @Get('recalls/:code/list')
  @ApiOperation({ summary: 'Who got what, with how to reach them, what they answered and what came back' })
  @ApiOkResponse({ standardSchema: recallListView })
  recallList(@Param('code', { schema: recallCode }) code: string): Promise<RecallListView> {
    return this.recalls.recallList(code);
  }

  @Get('recalls/:code/effects')
  @ApiOperation({ summary: 'What holding everything would do to what is planned and promised' })
  @ApiOkResponse({ standardSchema: holdEffects })
  effects(@Param('code', { schema: recallCode }) code: string): Promise<HoldEffects> {
    return this.holds.preview(code);
  }

  @Post('recalls/:code/hold')
  @HttpCode(200)
  @ApiOperation({ summary: 'Hold everything that is affected' })
  @ApiOkResponse({ standardSchema: holdEffects })
  hold(@Who() who: string, @Param('code', { schema: recallCode }) code: string): Promise<HoldEffects> {
    return this.holds.hold(who, code);
  }

  @Post('recalls/:code/lift')
  @HttpCode(200)
  @ApiOperation({ summary: 'Lift what this recall held' })
  @ApiOkResponse({ standardSchema: lifted })
  lift(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: recallWhy }) body: RecallWhy,
  ): Promise<Lifted> {
    return this.holds.lift(who, code, body);
  }

  @Post('recalls/:code/scope')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take in what has come of the suspected lot since' })
  @ApiOkResponse({ standardSchema: recallView })
  widen(@Who() who: string, @Param('code', { schema: recallCode }) code: string): Promise<RecallView> {
    return this.recalls.widen(who, code);
  }

  @Post('recalls/:code/entries')
  @ApiOperation({ summary: 'Write down a decision or a note' })
  @ApiCreatedResponse({ standardSchema: recallView })
  note(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: recallEntryCreate }) body: RecallEntryCreate,
  ): Promise<RecallView> {
    return this.recalls.note(who, code, body);
  }

  @Post('recalls/:code/letters')
  @ApiOperation({ summary: 'Write down who was written to' })
  @ApiCreatedResponse({ standardSchema: lettersDone })
  write(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: lettersCreate }) body: LettersCreate,
  ): Promise<LettersDone> {
    return this.recalls.write(who, code, body);
  }

  @Post('recalls/:code/answers')
  @ApiOperation({ summary: 'Write down what a recipient says of a lot they got' })
  @ApiCreatedResponse({ standardSchema: recallView })
  answer(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: answerCreate }) body: AnswerCreate,
  ): Promise<RecallView> {
    return this.recalls.answer(who, code, body);
  }

  @Post('recalls/:code/close')
  @HttpCode(200)
  @ApiOperation({ summary: 'Close a recall with what was decided' })
  @ApiOkResponse({ standardSchema: recallView })
  close(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: recallWhy }) body: RecallWhy,
  ): Promise<RecallView> {
    return this.recalls.close(who, code, body);
  }

  @Post('recalls/:code/reopen')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take a closed recall up again' })
  @ApiOkResponse({ standardSchema: recallView })
  reopen(
    @Who() who: string,
    @Param('code', { schema: recallCode }) code: string,
    @Body({ schema: recallWhy }) body: RecallWhy,
  ): Promise<RecallView> {
    return this.recalls.reopen(who, code, body);
  }

  @Get('recalls/:code/letters.pdf')
  @ApiOperation({ summary: 'Letters to recipients, one a page' })
  @ApiOkResponse(PDF)
  async letters(
    @Param('code', { schema: recallCode }) code: string,
    @Query({ schema: lettersQuery }) query: { only: 'open' | 'all' },
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const pdf = await this.papers.letters(code, query.only === 'open');
    void reply.headers(pdfHeaders(`letters-${code}`));
    return pdf;
  }

  @Get('recalls/:code/report.pdf')
  @ApiOperation({ summary: 'The whole record of a recall' })
  @ApiOkResponse(PDF)
  async report(@Param('code', { schema: recallCode }) code: string, @Res({ passthrough: true }) reply: FastifyReply) {
    const pdf = await this.papers.report(code);
    void reply.headers(pdfHeaders(`report-${code}`));
    return pdf;
  }
}
