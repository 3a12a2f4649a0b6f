import { Body, Controller, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { lineOfText } from '../platform/schema.js';
import * as shape from './acts.schema.js';
import { CountService } from './count.service.js';
import { IssueService } from './issue.service.js';
import { RetestService } from './retest.service.js';
import { RevaluationService } from './revaluation.service.js';
import { SplitService } from './split.service.js';

const lotCode = lineOfText(80);

@ApiTags('stock')
@Controller('api')
export class ActsController {
  constructor(
    private readonly counts: CountService,
    private readonly issues: IssueService,
    private readonly splits: SplitService,
    private readonly retests: RetestService,
    private readonly revaluations: RevaluationService,
  ) {}

  @Post('counts')
  @ApiOperation({ summary: 'Count a shelf: differences from the book are posted' })
  @ApiCreatedResponse({ standardSchema: shape.counted })
  count(@Who() who: string, @Body({ schema: shape.countCreate }) body: shape.CountCreate): Promise<shape.Counted> {
    return this.counts.count(who, body);
  }

  @Post('lots/:code/scrap')
  @ApiOperation({ summary: 'Throw some of a lot away' })
  @ApiCreatedResponse({ standardSchema: shape.lotActed })
  scrap(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.issue }) body: shape.Issue,
  ): Promise<shape.LotActed> {
    return this.issues.issue(who, 'scrap', code, body);
  }

  @Post('lots/:code/samples')
  @ApiOperation({ summary: 'Take a sample of a lot' })
  @ApiCreatedResponse({ standardSchema: shape.lotActed })
  sample(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.issue }) body: shape.Issue,
  ): Promise<shape.LotActed> {
    return this.issues.issue(who, 'sample', code, body);
  }

  @Post('lots/:code/trials')
  @ApiOperation({ summary: 'Use some of a lot in a trial' })
  @ApiCreatedResponse({ standardSchema: shape.lotActed })
  trial(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.issue }) body: shape.Issue,
  ): Promise<shape.LotActed> {
    return this.issues.issue(who, 'trial', code, body);
  }

  @Post('lots/:code/own-use')
  @ApiOperation({ summary: 'Use some of a lot in the workshop itself' })
  @ApiCreatedResponse({ standardSchema: shape.lotActed })
  ownUse(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.issue }) body: shape.Issue,
  ): Promise<shape.LotActed> {
    return this.issues.issue(who, 'own-use', code, body);
  }

  @Post('lots/:code/return-to-supplier')
  @ApiOperation({ summary: 'Send some of a lot back to its supplier' })
  @ApiCreatedResponse({ standardSchema: shape.lotActed })
  returnToSupplier(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.issue }) body: shape.Issue,
  ): Promise<shape.LotActed> {
    return this.issues.issue(who, 'return-to-supplier', code, body);
  }

  @Post('lots/:code/split')
  @ApiOperation({ summary: 'Split a part off a lot, in its own place' })
  @ApiCreatedResponse({ standardSchema: shape.split })
  split(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.splitCreate }) body: shape.SplitCreate,
  ): Promise<shape.Split> {
    return this.splits.split(who, code, body);
  }

  @Post('lots/:code/retest')
  @ApiOperation({ summary: 'Move the retest date of a lot on evidence' })
  @ApiCreatedResponse({ standardSchema: shape.retested })
  retest(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.retestCreate }) body: shape.RetestCreate,
  ): Promise<shape.Retested> {
    return this.retests.retest(who, code, body);
  }

  @Post('lots/:code/date')
  @ApiOperation({ summary: 'Put right the date of a lot that was written down wrongly' })
  @ApiCreatedResponse({ standardSchema: shape.retested })
  correctDate(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.dateCorrectionCreate }) body: shape.DateCorrectionCreate,
  ): Promise<shape.Retested> {
    return this.retests.correctDate(who, code, body);
  }

  @Post('lots/:code/revaluation')
  @ApiOperation({ summary: 'Add a late cost, such as freight, to what is still on hand' })
  @ApiCreatedResponse({ standardSchema: shape.revalued })
  revalue(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.revaluationCreate }) body: shape.RevaluationCreate,
  ): Promise<shape.Revalued> {
    return this.revaluations.revalue(who, code, body);
  }
}
