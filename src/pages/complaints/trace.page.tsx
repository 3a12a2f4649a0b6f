import { Get, Param, Post, Query, Res } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { Clock } from '../../platform/clock.js';
import { AccountService } from '../../trace/account.service.js';
import { lotCodeOfScan } from '../../trace/complaints.js';
import { recallCreate } from '../../trace/recall.schema.js';
import { RecallsService } from '../../trace/recalls.service.js';
import { lotCode, traceQuery, type TraceQuery } from '../../trace/trace.schema.js';
import { bodyOf, faultOf, goTo, written } from '../../ui/form.js';
import { TraceOfLot, type TraceProps } from './trace-view.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const lotPath = z.strictObject({ code: lotCode });
type LotPath = z.infer<typeof lotPath>;
/** Complaints the lot is suspected for go along into the recall. */
const pageQuery = traceQuery.extend({ complaints: z.string().max(500).optional() });
const goQuery = z.strictObject({ lot: z.string().max(500).default('') });

/** Where a lot came from and where it went. */
@PageController('trace')
export class TracePage {
  constructor(
    private readonly accounts: AccountService,
    private readonly recalls: RecallsService,
    private readonly clock: Clock,
  ) {}

  /** From a form that was typed or scanned into. */
  @Get()
  go(
    @Query({ schema: goQuery }) { lot }: z.infer<typeof goQuery>,
    @Res({ passthrough: true }) reply: FastifyReply,
  ): string {
    const code = lotCodeOfScan(lot);
    return goTo(reply, code === '' ? '/complaints' : `/trace/${encodeURIComponent(code)}`);
  }

  @Get(':code')
  async show(
    @Param({ schema: lotPath }) { code }: LotPath,
    @Query({ schema: pageQuery }) { direction, complaints }: z.infer<typeof pageQuery>,
  ) {
    return <TraceOfLot {...await this.props(code, direction)} complaints={complaints} />;
  }

  @Post(':code/recall')
  async open(@Filled(lotPath) { who, path: { code }, sent, reply }: Filled<typeof lotPath>) {
    try {
      const complaints = written(sent, 'complaints')?.split(',') ?? [];
      const body = bodyOf(recallCreate, { lot: code, why: written(sent, 'why') ?? '', complaints });
      const recall = await this.recalls.open(who, body);
      return goTo(reply, `/recalls/${recall.code}`);
    } catch (error) {
      const fault = faultOf(error, reply);
      return <TraceOfLot {...await this.props(code, 'both')} refused={{ sent, fault }} />;
    }
  }

  private async props(code: string, direction: TraceQuery['direction']): Promise<TraceProps> {
    return {
      ...(await this.accounts.traced(code, direction)),
      today: await this.clock.today(),
    };
  }
}
