import { Get, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { scent } from '../../catalog/items.schema.js';
import { ItemsService } from '../../catalog/items.service.js';
import { washingPath, washingPut } from '../../catalog/washing.schema.js';
import { WashingService } from '../../catalog/washing.service.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { invalid } from '../../platform/problem.js';
import { itemCode } from '../../platform/schema.js';
import { CODES_MAX } from '../../ui/codes-list.js';
import { bodyOf, faultOf, goTo, type Sent, wholeOrText, written } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';
import type { Tried } from './tried.js';
import { type WashingForm, WashingView } from './washing-view.js';

const SAID = {
  row: 'It is written down. The next plan goes by it.',
  scent: 'The scent is written down.',
  gone: 'It is taken away. The next plan washes nothing for it.',
};
const scentForm = z.strictObject({ item: itemCode, scent: scent.nullable() });
const saidQuery = z.strictObject({ said: z.enum(Object.keys(SAID) as [keyof typeof SAID]).optional() });

/** What vessels are washed for between two pours, and what each thing smells of. */
@PageController('start/washing')
export class WashingPage {
  constructor(
    private readonly washing: WashingService,
    private readonly workshop: WorkshopService,
    private readonly items: ItemsService,
  ) {}

  @Get()
  show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return this.view(said && SAID[said]);
  }

  @Post()
  say(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('row', sent, reply, () => this.washing.put(who, bodyOf(washingPut, rowIn(sent))));
  }

  @Post('scent')
  scent(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('scent', sent, reply, async () => {
      const form = { item: written(sent, 'item')?.toUpperCase() ?? '', scent: written(sent, 'scent') ?? null };
      const { item, ...patch } = bodyOf(scentForm, form);
      const { items } = await this.items.list({ limit: CODES_MAX, search: item });
      if (!items.some(({ code }) => code === item)) throw invalid('/item', `There is nothing called ${item}.`);
      await this.items.change(who, item, patch);
    });
  }

  @Post('gone')
  takeAway(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('gone', sent, reply, () =>
      this.washing.takeBack(who, bodyOf(washingPath, { id: sent['id'] }).id),
    );
  }

  /** Does what a form asks and goes back to the page; a fault shows the form again. */
  private async attempt(form: WashingForm, sent: Sent, reply: FastifyReply, act: () => Promise<unknown>) {
    try {
      await act();
    } catch (error) {
      return this.view(undefined, { form, sent, fault: faultOf(error, reply) });
    }
    return goTo(reply, '/start/washing', { said: form });
  }

  private async view(said: string | undefined, tried?: Tried<WashingForm>) {
    const { washing } = await this.washing.list();
    const { vessels } = await this.workshop.vessels();
    const { items } = await this.items.list({ limit: CODES_MAX });
    return <WashingView {...{ washing, vessels, items, said, tried }} />;
  }
}

/** What the form says, as the API takes it: `scent:heavy`, `family:candle`, `kind:jug`, `vessel:JUG-1`; nothing for anything. */
function rowIn(sent: Sent): unknown {
  const after = sent['after'] ?? '';
  const before = sent['before'] ?? '';
  const where = sent['where'] ?? '';
  return {
    vessel: afterPrefix(where, 'vessel:'),
    kind: afterPrefix(where, 'kind:'),
    afterFamily: afterPrefix(after, 'family:'),
    afterScent: afterPrefix(after, 'scent:'),
    beforeFamily: afterPrefix(before, 'family:'),
    beforeScent: afterPrefix(before, 'scent:'),
    minutes: wholeOrText(written(sent, 'minutes')),
  };
}

const afterPrefix = (text: string, prefix: string): string | null =>
  text.startsWith(prefix) ? text.slice(prefix.length) : null;
