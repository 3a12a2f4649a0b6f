import { Get, Param, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { invalid } from '../../platform/problem.js';
import { bringBack, fairName, fairSale, takeAlong } from '../../shipping/fairs.schema.js';
import { FairsService } from '../../shipping/fairs.service.js';
import { FAIR_ROWS, FAIR_SAID, type FairForm, FairList, FairView } from './fair-view.js';
import { bodyOf, type Fault, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const fairPath = z.strictObject({ name: fairName });
type FairPath = z.infer<typeof fairPath>;
const saidQuery = z.strictObject({ said: z.enum(FAIR_SAID).optional() });

/** Goods at a fair: taken along, sold there, brought home. */
@PageController('fairs')
export class FairsPage {
  constructor(private readonly fairs: FairsService) {}

  @Get()
  async list() {
    return <FairList {...await this.fairs.list()} />;
  }

  @Post()
  async begin(@Filled() { who, sent, reply }: Filled) {
    try {
      const { name } = bodyOf(fairPath, { name: written(sent, 'name') });
      await this.fairs.takeAlong(who, name, alongOf(sent));
      return goTo(reply, addressOf(name), { said: 'along' });
    } catch (error) {
      return <FairList {...await this.fairs.list()} refused={{ sent, fault: faultOf(error, reply) }} />;
    }
  }

  @Get(':name')
  async show(
    @Param({ schema: fairPath }) { name }: FairPath,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <FairView fair={await this.fairs.fair(name)} said={said} />;
  }

  @Post(':name/along')
  along(@Filled(fairPath) { who, path: { name }, sent, reply }: Filled<typeof fairPath>) {
    return this.act({ name, form: 'along', sent, reply }, () => this.fairs.takeAlong(who, name, alongOf(sent)));
  }

  @Post(':name/sold')
  sell(@Filled(fairPath) { who, path: { name }, sent, reply }: Filled<typeof fairPath>) {
    return this.act({ name, form: 'sold', sent, reply }, () =>
      this.fairs.sell(who, name, bodyOf(fairSale, { lots: lotsOf(sent) })),
    );
  }

  @Post(':name/back')
  back(@Filled(fairPath) { who, path: { name }, sent, reply }: Filled<typeof fairPath>) {
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
