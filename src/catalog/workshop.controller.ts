import { Body, Controller, Delete, Get, HttpCode, Param, Post, Put } from '@nestjs/common';
import { ApiCreatedResponse, ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { isoDay } from '../platform/schema.js';
import type { ClosedDay } from './workshop.entity.js';
import type { ClosedDayCreate, VesselCreate, VesselView, WorkshopPut, WorkshopView } from './workshop.schema.js';
import {
  closedDayCreate,
  closedDayList,
  vesselCreate,
  vesselList,
  vesselView,
  workshopPut,
  workshopView,
} from './workshop.schema.js';
import { WorkshopService } from './workshop.service.js';

@ApiTags('workshop')
@Controller('api')
export class WorkshopController {
  constructor(private readonly workshop: WorkshopService) {}

  @Get('workshop')
  @ApiOperation({ summary: "The workshop's hours, zone, currency and scale" })
  @ApiOkResponse({ standardSchema: workshopView })
  get(): Promise<WorkshopView> {
    return this.workshop.get();
  }

  @Put('workshop')
  @ApiOperation({ summary: 'Set all of them' })
  @ApiOkResponse({ standardSchema: workshopView })
  put(@Who() who: string, @Body({ schema: workshopPut }) body: WorkshopPut): Promise<WorkshopView> {
    return this.workshop.put(who, body);
  }

  @Get('vessels')
  @ApiOperation({ summary: 'Kettles, jugs, melters and moulds' })
  @ApiOkResponse({ standardSchema: vesselList })
  vessels(): Promise<{ vessels: VesselView[] }> {
    return this.workshop.vessels();
  }

  @Post('vessels')
  @ApiOperation({ summary: 'Add a vessel' })
  @ApiCreatedResponse({ standardSchema: vesselView })
  addVessel(@Who() who: string, @Body({ schema: vesselCreate }) body: VesselCreate): Promise<VesselView> {
    return this.workshop.addVessel(who, body);
  }

  @Get('closed-days')
  @ApiOperation({ summary: 'Days without hands-on work' })
  @ApiOkResponse({ standardSchema: closedDayList })
  closedDays(): Promise<{ closedDays: ClosedDay[] }> {
    return this.workshop.closedDays();
  }

  @Post('closed-days')
  @ApiOperation({ summary: 'Close a day' })
  @ApiCreatedResponse({ standardSchema: closedDayCreate })
  close(@Who() who: string, @Body({ schema: closedDayCreate }) body: ClosedDayCreate): Promise<ClosedDayCreate> {
    return this.workshop.close(who, body);
  }

  @Delete('closed-days/:day')
  @HttpCode(204)
  @ApiOperation({ summary: 'Open it again' })
  @ApiNoContentResponse()
  open(@Who() who: string, @Param('day', { schema: isoDay }) day: string): Promise<void> {
    return this.workshop.open(who, day);
  }
}
