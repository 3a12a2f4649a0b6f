import { Body, Controller, Get, Header, Param, Post, Query, Res } from '@nestjs/common';
import { ApiExcludeController } from '@nestjs/swagger';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { Who } from '../../platform/person.js';
import { invalid } from '../../platform/problem.js';
import { bringBack, fairName, fairSale, takeAlong } from '../../shipping/fairs.schema.js';
import { FairsService } from '../../shipping/fairs.service.js';
import { FAIR_ROWS, FAIR_SAID, type FairForm, FairList, FairView } from './fair-view.js';
import { bodyOf, type Fault, faultOf, goTo, sentForm, type Sent, written } from '../../ui/form.js';

const HTML = ['content-type', 'text/html; charset=utf-8'] as const;
const fairPath = z.strictObject({ name: fairName });
type FairPath = z.infer<typeof fairPath>;
const saidQuery = z.strictObject({ said: z.enum(FAIR_SAID).optional() });

/** Goods at a fair: taken along, sold there, brought home. */
@ApiExcludeController()
@Controller('fairs')
export class FairsPage {
  constructor(private readonly fairs: FairsService) {}

  @Get()
  @Header(...HTML)
  async list() {
    return <FairList {...await this.fairs.list()} />;
  }

  @Post()
  @Header(...HTML)
  async begin(
    @Who() who: string,
    @Body({ schema: sentForm }) sent: Sent,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    try {
      const { name } = bodyOf(fairPath, { name: written(sent, 'name') });
      await this.fairs.takeAlong(who, name, alongOf(sent));
      return goTo(reply, addressOf(name), { said: 'along' });
    } catch (error) {
      return <FairList {...await this.fairs.list()} refused={{ sent, fault: faultOf(error, reply) }} />;
    }
  }

  @Get(':name')
  @Header(...HTML)
  async show(
    @Param({ schema: fairPath }) { name }: FairPath,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <FairView fair={await this.fairs.fair(name)} said={said} />;
  }

  @Post(':name/along')
  @Header(...HTML)
  along(
    @Who() who: string,
    @Param({ schema: fairPath }) { name }: FairPath,
    @Body({ schema: sentForm }) sent: Sent,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    return this.act({ name, form: 'along', sent, reply }, () => this.fairs.takeAlong(who, name, alongOf(sent)));
  }

  @Post(':name/sold')
  @Header(...HTML)
  sell(
    @Who() who: string,
    @Param({ schema: fairPath }) { name }: FairPath,
    @Body({ schema: sentForm }) sent: Sent,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    return this.act({ name, form: 'sold', sent, reply }, () =>
      this.fairs.sell(who, name, bodyOf(fairSale, { lots: lotsOf(sent) })),
    );
  }

  @Post(':name/back')
  @Header(...HTML)
  back(
    @Who() who: string,
    @Param({ schema: fairPath }) { name }: FairPath,
    @Body({ schema: sentForm }) sent: Sent,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    return this.act({ name, form: 'back', sent, reply }, () =>
      this.fairs.bringBack(who, name, bodyOf(bringBack, { place: written(sent, 'place') })),
    );
  }

  private async act(
    { name, form, sent, reply }: { name: string; form: FairForm; sent: Sent; reply: FastifyReply },
    work: () => Promise<unknown>,
  ) {
    try {
      await work();
      return goTo(reply, addressOf(name), { said: form });
    } catch (error) {
      const fault: Fault = faultOf(error, reply);
      return <FairView fair={await this.fairs.fair(name)} refused={{ form, sent, fault }} />;
    }
  }
}

const addressOf = (name: string): string => `/fairs/${encodeURIComponent(name)}`;

const alongOf = (sent: Sent) =>
  bodyOf(takeAlong, { place: written(sent, 'place'), until: written(sent, 'until'), lots: lotsOf(sent) });

/** Rows with pieces; of the others nothing was meant. */
function lotsOf(sent: Sent): { lot: string; quantity: string }[] {
  const lots = [];
  for (let n = 0; n < FAIR_ROWS; n++) {
    const quantity = written(sent, `lots/${n}/quantity`);
    if (quantity !== undefined) lots.push({ lot: written(sent, `lots/${n}/lot`) ?? '', quantity });
  }
  if (lots.length === 0) throw invalid('', 'Write of at least one lot how many pieces.');
  return lots;
}
