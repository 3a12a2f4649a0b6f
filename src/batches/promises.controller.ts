import { Body, Controller, Get, HttpCode, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { idParam, lineOfText } from '../platform/schema.js';
import * as shape from '../stock/acts.schema.js';
import { CorrectionService } from './correction.service.js';
import { SetAsideService } from './set-aside.service.js';

const lotCode = lineOfText(80);

/** What is set aside by hand, and what is taken back, for order lines and batches. Programs know it among the acts on lots. */
@ApiTags('stock')
@Controller('api')
export class PromisesController {
  constructor(
    private readonly setAsides: SetAsideService,
    private readonly corrections: CorrectionService,
  ) {}

  @Get('lots/:code/reservations')
  @ApiOperation({ operationId: 'Acts.reservations', summary: 'What is set aside of a lot, the one needed first first' })
  @ApiOkResponse({ standardSchema: shape.setAsideList })
  reservations(@Param('code', { schema: lotCode }) code: string): Promise<shape.SetAsideList> {
    return this.setAsides.list(code);
  }

  @Post('lots/:code/reservations')
  @ApiOperation({ operationId: 'Acts.setAside', summary: 'Set some of a lot aside for an order line or a batch' })
  @ApiCreatedResponse({ standardSchema: shape.setAside })
  setAside(
    @Who() who: string,
    @Param('code', { schema: lotCode }) code: string,
    @Body({ schema: shape.setAsideCreate }) body: shape.SetAsideCreate,
  ): Promise<shape.SetAside> {
    return this.setAsides.setAside(who, code, body);
  }

  @Post('reservations/:id/free')
  @HttpCode(200)
  @ApiOperation({ operationId: 'Acts.free', summary: 'Give back what was set aside' })
  @ApiOkResponse({ standardSchema: shape.freedNow })
  free(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: shape.freeCreate }) body: shape.FreeCreate,
  ): Promise<shape.FreedNow> {
    return this.setAsides.free(who, id, body);
  }

  @Post('movements/:id/correct')
  @ApiOperation({ operationId: 'Acts.correct', summary: 'Take back an entry that was booked wrongly' })
  @ApiCreatedResponse({ standardSchema: shape.corrected })
  correct(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: shape.correctionCreate }) body: shape.CorrectionCreate,
  ): Promise<shape.Corrected> {
    return this.corrections.correct(who, id, body);
  }
}
