import { Controller, Get, Header, HttpCode, Param, Post } from '@nestjs/common';
import { ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiProduces, ApiTags } from '@nestjs/swagger';
import { z } from 'zod';
import { CalendarService } from './calendar.service.js';
import { SweepService } from './sweep.service.js';

const secretPath = z.strictObject({
  secret: z
    .string()
    .regex(/^[\w-]{1,100}\.ics$/, 'must be the address of a calendar')
    .transform((name) => name.slice(0, -'.ics'.length)),
});

@ApiTags('reminders')
@Controller()
export class SweepController {
  constructor(
    private readonly sweeps: SweepService,
    private readonly calendar: CalendarService,
  ) {}

  @Post('api/reminders/look')
  @HttpCode(204)
  @ApiOperation({ summary: 'Have a worker look now for what is due' })
  @ApiNoContentResponse()
  look(): Promise<void> {
    return this.sweeps.ask();
  }

  @Get('calendar/:secret')
  @Header('content-type', 'text/calendar; charset=utf-8')
  @Header('cache-control', 'private, no-cache')
  @ApiOperation({ summary: 'Pours, releases and last days to order, as a calendar to subscribe to (RFC 5545)' })
  @ApiProduces('text/calendar')
  @ApiOkResponse({ standardSchema: z.string() })
  feed(@Param({ schema: secretPath }) { secret }: z.output<typeof secretPath>): Promise<string> {
    return this.calendar.text(secret);
  }
}
