import { Get, Param, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { invalid } from '../../platform/problem.js';
import { DrillService } from '../../trace/drill.service.js';
import { PapersService } from '../../trace/papers.service.js';
import { RecallHoldsService } from '../../trace/recall-holds.service.js';
import { answerCreate, lettersCreate, recallCode, recallEntryCreate, recallWhy } from '../../trace/recall.schema.js';
import { RecallsService } from '../../trace/recalls.service.js';
import type { Refused } from './complaint-view.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { RecallList, RecallPaper } from './recall-view.js';
import { RECALL_SAID, type RecallProps, type RecallSaid } from './recall-props.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const recallPath = z.strictObject({ code: recallCode });
type RecallPath = z.infer<typeof recallPath>;
const saidQuery = z.strictObject({ said: z.enum(RECALL_SAID).optional() });
const ACTS = ['hold', 'lift', 'scope', 'letters', 'answer', 'decision', 'close', 'reopen'] as const;
type Act = (typeof ACTS)[number];
const actPath = recallPath.extend({ act: z.enum(ACTS) });
const SHOWN_MAX = 200;

const SAID: Record<Act, RecallSaid> = {
  hold: 'held',
  lift: 'lifted',
  scope: 'wider',
  letters: 'written',
  answer: 'answered',
  decision: 'noted',
  close: 'closed',
  reopen: 'reopened',
};

/** What is done about a suspected lot, and practising it. */
@PageController('recalls')
export class RecallPage {
  constructor(
    private readonly recalls: RecallsService,
    private readonly holds: RecallHoldsService,
    private readonly drills: DrillService,
    private readonly papers: PapersService,
  ) {}

  @Get()
  list() {
    return this.listed();
  }

  @Post('drill')
  async drill(@Filled() { who, sent, reply }: Filled) {
    try {
      const { code } = await this.drills.drill(who, {});
      return goTo(reply, `/recalls/${code}`);
    } catch (error) {
      return this.listed({ form: 'drill', sent, fault: faultOf(error, reply) });
    }
  }

  @Get(':code')
  async show(
    @Param({ schema: recallPath }) { code }: RecallPath,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <RecallPaper {...await this.props(code)} said={said} />;
  }

  @Post(':code/:act')
  async act(@Filled(actPath) { who, path: { code, act }, sent, reply }: Filled<typeof actPath>) {
    try {
      await this.done(who, code, act, sent);
      return goTo(reply, `/recalls/${code}`, { said: SAID[act] });
    } catch (error) {
      const fault = faultOf(error, reply);
      return <RecallPaper {...await this.props(code)} refused={{ form: act, sent, fault }} />;
    }
  }

  private done(who: string, code: string, act: Act, sent: Sent): Promise<unknown> {
    const why = () => bodyOf(recallWhy, { why: written(sent, 'why') ?? '' });
    switch (act) {
      case 'hold':
        return this.holds.hold(who, code);
      case 'lift':
        return this.holds.lift(who, code, why());
      case 'scope':
        return this.recalls.widen(who, code);
      case 'letters':
        return this.recalls.write(who, code, bodyOf(lettersCreate, { sentBy: written(sent, 'sentBy') }));
      case 'answer':
        return this.recalls.answer(who, code, bodyOf(answerCreate, answerOf(sent)));
      case 'decision':
        return this.recalls.note(who, code, bodyOf(recallEntryCreate, { kind: 'decision', text: why().why }));
      case 'close':
        return this.recalls.close(who, code, why());
      case 'reopen':
        return this.recalls.reopen(who, code, why());
    }
  }

  private async props(code: string): Promise<RecallProps> {
    const recall = await this.recalls.get(code);
    return {
      recall,
      list: await this.recalls.recallList(code),
      effects: await this.holds.preview(code),
      mails: recall.status === 'open' && !recall.isDrill ? await this.papers.mails(code) : new Map(),
    };
  }

  private async listed(refused?: Refused) {
    const { recalls } = await this.recalls.list({ limit: SHOWN_MAX });
    return <RecallList recalls={recalls} refused={refused} />;
  }
}

/** An order and a lot were chosen together: `webshop/1001 26041-001`. */
function answerOf(sent: Sent): unknown {
  const [, channel, number, lot] = /^([^/ ]+)\/(.+) (\S+)$/.exec(sent['pair'] ?? '') ?? [];
  if (lot === undefined) throw invalid('/pair', 'Choose an order and a lot.');
  const pieces = (name: string) => {
    const text = written(sent, name);
    if (text === undefined) return undefined;
    if (!/^\d{1,9}$/.test(text)) throw invalid(`/${name}`, 'Write a number of pieces.');
    return Number(text);
  };
  return {
    order: { channel, number },
    lot,
    received: pieces('received'),
    used: pieces('used'),
    kept: pieces('kept'),
    destroyed: pieces('destroyed'),
    sentBack: pieces('sentBack'),
    note: written(sent, 'note') ?? '',
  };
}
