import { Get, HttpCode, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { itemCreate } from '../../catalog/items.schema.js';
import { ItemsService } from '../../catalog/items.service.js';
import { vesselCreate, workshopPut } from '../../catalog/workshop.schema.js';
import { WorkshopService } from '../../catalog/workshop.service.js';
import { BeginningService } from '../../demo/beginning.service.js';
import { DemoService } from '../../demo/demo.service.js';
import { Clock } from '../../platform/clock.js';
import { invalid, Problem } from '../../platform/problem.js';
import { problemOf } from '../../platform/problem-filter.js';
import { lotCreate } from '../../stock/stock.schema.js';
import { LotsService } from '../../stock/lots.service.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { readPastedItems } from './pasted-items.js';
import { REMOVE_WORD, StartView } from './start-view.js';
import { moneyE4Of } from '../../ui/amounts.js';
import type { Tried } from './tried.js';
import { termsIn } from './plan-terms-fields.js';
import { readableCode } from '../../platform/schema.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const ITEMS_MAX = 1000;

const SAID = {
  settings: 'Your workshop is set.',
  vessel: 'The vessel is added.',
  items: 'The items are added.',
  lot: 'The lot is on the shelf.',
  demo: 'The demonstration is loaded. Plan its week to see what it does.',
  removed: 'The demonstration is gone. This workshop is empty, and yours.',
};
const startQuery = z.strictObject({
  said: z.enum(Object.keys(SAID) as [keyof typeof SAID]).optional(),
  /** The one that was looked for. */
  vessel: readableCode.optional(),
});

/** The guided beginning of an empty workshop; or the demonstration, which goes with one word. */
@PageController('start')
export class StartPage {
  constructor(
    private readonly beginning: BeginningService,
    private readonly demo: DemoService,
    private readonly workshop: WorkshopService,
    private readonly items: ItemsService,
    private readonly lots: LotsService,
    private readonly clock: Clock,
  ) {}

  @Get()
  show(@Query({ schema: startQuery }) { said, vessel }: z.infer<typeof startQuery>) {
    return this.view(undefined, said && SAID[said], vessel);
  }

  @Post('settings')
  @HttpCode(200)
  set(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('settings', sent, reply, async () => {
      const whole = (name: string): number => Number(written(sent, name) ?? Number.NaN);
      const body = {
        name: sent['name'],
        timeZone: sent['timeZone'],
        units: sent['units'],
        currency: sent['currency']?.trim().toUpperCase(),
        benchMinutes: [0, 1, 2, 3, 4, 5, 6].map((day) => whole(`benchMinutes/${day}`)),
        slackDays: whole('slackDays'),
        receivingDays: whole('receivingDays'),
        scaleStep: sent['scaleStep'],
        scaleLeast: sent['scaleLeast'],
        labourRateE4: moneyE4Of(written(sent, 'labourRate'), '/labourRate') ?? null,
        weighTolerancePpb: written(sent, 'weighTolerance'),
        lossTolerancePpb: written(sent, 'lossTolerance'),
        bestBeforeOfMaterials: sent['bestBefore'] === 'materials',
        planTerms: termsIn(sent),
      };
      await this.workshop.put(who, bodyOf(workshopPut, body));
    });
  }

  @Post('vessel')
  @HttpCode(200)
  addVessel(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('vessel', sent, reply, async () => {
      const body = { code: sent['code']?.trim().toUpperCase(), kind: sent['kind']?.trim(), capacity: sent['capacity'] };
      await this.workshop.addVessel(who, bodyOf(vesselCreate, body));
    });
  }

  @Post('items')
  @HttpCode(200)
  addItems(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('items', sent, reply, async () => {
      const rows = await readPastedItems(written(sent, 'text') ?? '');
      if (rows.length === 0) throw invalid('/text', 'Paste at least one row.');
      if (rows.length > ITEMS_MAX) throw invalid('/text', `At most ${ITEMS_MAX} rows at once.`);
      try {
        await this.items.createMany(
          who,
          bodyOf(
            z.array(itemCreate),
            rows.map(({ body }) => body),
          ),
        );
      } catch (error) {
        throw atItsLine(
          error,
          rows.map(({ line }) => line),
        );
      }
    });
  }

  @Post('lot')
  @HttpCode(200)
  addLot(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('lot', sent, reply, async () => {
      const body = {
        item: written(sent, 'item')?.toUpperCase() ?? '',
        quantity: written(sent, 'quantity') ?? '',
        expiresOn: written(sent, 'expiresOn'),
        reason: 'opening count',
      };
      await this.lots.receive(who, bodyOf(lotCreate, body));
    });
  }

  @Post('demo')
  @HttpCode(200)
  load(@Filled() { who, reply }: Filled) {
    return this.attempt('demo', {}, reply, async () => this.demo.loadAsked(await this.clock.today(), who));
  }

  @Post('remove')
  @HttpCode(200)
  remove(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('remove', sent, reply, async () => {
      if (written(sent, 'word')?.toLowerCase() !== REMOVE_WORD)
        throw invalid('/word', `Write ${REMOVE_WORD} to take it away. Nothing was removed.`);
      await this.demo.remove(who);
    });
  }

  /** Does what a form asks and goes back to the page; a fault shows the form again. */
  private async attempt(form: Tried['form'], sent: Sent, reply: FastifyReply, act: () => Promise<void>) {
    try {
      await act();
    } catch (error) {
      return this.view({ form, sent, fault: faultOf(error, reply) }, undefined);
    }
    return goTo(reply, '/start', { said: form === 'remove' ? 'removed' : form });
  }

  private async view(tried: Tried | undefined, said: string | undefined, lookedFor?: string) {
    const beginning = await this.beginning.get();
    const settings = await this.workshop.get();
    const { vessels } = await this.workshop.vessels();
    const { items } = await this.items.list({ limit: ITEMS_MAX });
    return <StartView {...{ beginning, settings, vessels, items, tried, said, lookedFor }} />;
  }
}

/** The same problem, pointing at the lines that were pasted: `/text/3/density`. */
function atItsLine(error: unknown, lines: readonly number[]): unknown {
  const { status, code, errors } = problemOf(error);
  if (errors.length === 0) return error;
  const placed = errors.map((part) => ({
    ...part,
    pointer: part.pointer.replace(/^\/(\d+)/, (_, at: string) => `/text/${lines[Number(at)]}`),
  }));
  return new Problem({ status, code, detail: 'Some rows cannot be added, so none was.', errors: placed });
}
