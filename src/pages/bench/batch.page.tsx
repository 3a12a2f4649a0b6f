import { Get, Param, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { Clock } from '../../platform/clock.js';
import { invalid, Problem } from '../../platform/problem.js';
import { lineOfText } from '../../platform/schema.js';
import { BenchService } from '../../bench/bench.service.js';
import { finishCreate, rejectCreate, releaseCreate } from '../../bench/finish.schema.js';
import { FinishService } from '../../bench/finish.service.js';
import type { FittingLot } from '../../bench/fitting-lot.js';
import { PauseService } from '../../bench/pause.service.js';
import type { BatchView } from '../../bench/bench.schema.js';
import { pauseCreate, rescaleCreate, resumeCreate } from '../../bench/bench.schema.js';
import { RecordService } from '../../bench/record.service.js';
import { RejectService } from '../../bench/reject.service.js';
import { ReleaseService } from '../../bench/release.service.js';
import { RescaleService } from '../../bench/rescale.service.js';
import { reworkBatchCreate, workInCreate } from '../../bench/rework.schema.js';
import { ReworkService } from '../../bench/rework.service.js';
import { WeighingService } from '../../bench/weighing.service.js';
import { correctionCreate } from '../../stock/acts.schema.js';
import { CorrectionService } from '../../batches/correction.service.js';
import type { BrokenPromise } from '../../stock/stock.schema.js';
import { BatchPaper } from './batch-paper.js';
import { RecordPaper } from './batch-record.js';
import { BatchSheet } from './batch-sheet.js';
import { BATCH_SAID, type BatchForm, type BatchSaid } from './sheet-props.js';
import { isBelowGood } from './batch-words.js';
import { bodyOf, faultOf, goTo, type Sent, written } from '../../ui/form.js';
import { freedForAddress, freedQuery } from '../shelf/elsewhere/freed.js';
import { weighingSent, weightSent } from './weigh-sent.js';
import { Filled, PageController } from '../../ui/page-controller.js';

const batchPath = z.strictObject({ code: lineOfText(80) });
type BatchPath = z.infer<typeof batchPath>;

const sheetQuery = z.strictObject({
  said: z.enum(BATCH_SAID).optional(),
  line: z.coerce.number().int().min(1).max(64).optional(),
  freed: freedQuery,
});
type SheetQuery = z.infer<typeof sheetQuery>;

/** One batch from the first weighing to its release, a step at a time. */
@PageController('batches/:code')
export class BatchPage {
  constructor(
    private readonly bench: BenchService,
    private readonly weighings: WeighingService,
    private readonly rescales: RescaleService,
    private readonly pauses: PauseService,
    private readonly finishes: FinishService,
    private readonly releases: ReleaseService,
    private readonly rejects: RejectService,
    private readonly reworks: ReworkService,
    private readonly records: RecordService,
    private readonly corrections: CorrectionService,
    private readonly clock: Clock,
  ) {}

  @Get()
  show(@Param({ schema: batchPath }) { code }: BatchPath, @Query({ schema: sheetQuery }) query: SheetQuery) {
    return this.sheet(code, query);
  }

  @Get('sheet')
  async paper(@Param({ schema: batchPath }) { code }: BatchPath) {
    return <BatchPaper batch={await this.bench.get(code)} record={await this.records.record(code)} />;
  }

  @Get('record')
  async record(@Param({ schema: batchPath }) { code }: BatchPath) {
    return <RecordPaper record={await this.records.record(code)} />;
  }

  /** What the scale shows, and which lot stands on it. Within the tolerance of what is meant, that is all of it. */
  @Post('weigh')
  weigh(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'weigh', sent, reply, line: Number(sent['position']) }, async (batch) => {
      const line = batch.inputs.find(({ position }) => String(position) === sent['position']);
      const body = weighingSent(line, sent);
      const { freed, batch: after } = await this.weighings.weigh(who, code, body);
      const now = after.inputs.find(({ position }) => position === body.position)!;
      const next = now.done || !isBelowGood(now) ? undefined : String(body.position);
      return { said: 'weighed', freed, ...(next !== undefined && { line: next }) };
    });
  }

  /** Takes back what was written down wrongly: another entry, beside the first. */
  @Post('take-back')
  takeBack(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'take-back', sent, reply }, async () => {
      const { lines } = await this.records.record(code);
      const movement = Number(sent['movement']);
      const isHere = lines.some(({ entries }) => entries.some((entry) => entry.movement === movement));
      if (!isHere) throw invalid('/movement', 'Choose what is to be taken back.');
      const { freed } = await this.corrections.correct(
        who,
        movement,
        bodyOf(correctionCreate, { reason: written(sent, 'reason') }),
      );
      return { said: 'taken-back', freed };
    });
  }

  @Post('rescale')
  rescale(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'rescale', sent, reply }, async () => {
      await this.rescales.rescale(who, code, bodyOf(rescaleCreate, { why: written(sent, 'why') }));
      return { said: 'rescaled' };
    });
  }

  @Post('pause')
  pause(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'pause', sent, reply }, async () => {
      await this.pauses.pause(who, code, bodyOf(pauseCreate, { note: written(sent, 'note') }));
      return { said: 'paused' };
    });
  }

  @Post('resume')
  resume(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'resume', sent, reply }, async () => {
      await this.pauses.resume(who, code, bodyOf(resumeCreate, { note: written(sent, 'note') }));
      return { said: 'resumed' };
    });
  }

  @Post('finish')
  finish(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'finish', sent, reply }, async (batch) => {
      const { freed } = await this.finishes.finish(who, code, bodyOf(finishCreate, finishBody(batch, sent)));
      return { said: 'finished', freed };
    });
  }

  @Post('release')
  release(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'release', sent, reply }, async () => {
      const body = bodyOf(releaseCreate, { why: written(sent, 'why'), leaveOut: sent['leaveOut'] === 'yes' });
      const { freed } = await this.releases.release(who, code, body);
      return { said: 'released', freed };
    });
  }

  @Post('reject')
  reject(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'reject', sent, reply }, async () => {
      const body = bodyOf(rejectCreate, { why: written(sent, 'why'), forRework: sent['forRework'] === 'yes' });
      const { freed } = await this.rejects.reject(who, code, body);
      return { said: 'rejected', freed };
    });
  }

  @Post('work-in')
  workIn(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'work-in', sent, reply }, async () => {
      const quantity = weightSent(sent, 'quantity');
      await this.reworks.workIn(
        who,
        code,
        bodyOf(workInCreate, { lot: written(sent, 'lot'), quantity, why: written(sent, 'why') }),
      );
      return { said: 'worked-in' };
    });
  }

  /** A batch of its own that mends what this one made; its sheet is what comes next. */
  @Post('mend')
  mend(@Filled(batchPath) { who, path: { code }, sent, reply }: Filled<typeof batchPath>) {
    return this.act({ code, form: 'mend', sent, reply }, async (batch) => {
      const added = written(sent, 'item');
      const body = bodyOf(reworkBatchCreate, {
        why: written(sent, 'why'),
        additions: added === undefined ? [] : [{ item: added, quantity: weightSent(sent, 'quantity') }],
      });
      const mended = await this.reworks.open(who, batch.lot ?? '', body);
      return { said: 'mending', to: mended.code };
    });
  }

  private async sheet(code: string, said: BatchSaid, refused?: Parameters<typeof BatchSheet>[0]['refused']) {
    const [today, batch, record] = [
      await this.clock.today(),
      await this.bench.get(code),
      await this.records.record(code),
    ];
    return <BatchSheet today={today} batch={batch} record={record} said={said} refused={refused} />;
  }

  /** Does what a form asks and goes on to what comes next; a form at fault is shown again as it was. */
  private async act(
    asked: { code: string; form: BatchForm; sent: Sent; reply: FastifyReply; line?: number },
    work: (batch: BatchView) => Promise<Done>,
  ) {
    const { code, form, sent, reply, line } = asked;
    const batch = await this.bench.get(code);
    try {
      const { freed = [], to, ...said } = await work(batch);
      const measures = new Map([
        [batch.item, batch.measure],
        ...batch.inputs.map((row) => [row.item, row.measure] as const),
      ]);
      const named = freed.map((row) => ({ ...row, measure: measures.get(row.item) ?? 'counted' }));
      return goTo(reply, addressOf(to ?? code), { ...said, freed: freedForAddress(named) });
    } catch (error) {
      const fault = faultOf(error, reply);
      const extra = error instanceof Problem ? error.extra : {};
      const instead = (extra['instead'] ?? null) as FittingLot | null;
      const asks = (extra['asks'] ?? []) as string[];
      const lines = Number.isInteger(line) ? { line } : {};
      return this.sheet(code, lines, { form, sent, fault, instead, asks });
    }
  }
}

interface Done {
  said: NonNullable<BatchSaid['said']>;
  freed?: readonly BrokenPromise[];
  /** The line to stay at. */
  line?: string;
  /** Another batch to go on to. */
  to?: string;
}

const addressOf = (code: string): string => `/batches/${encodeURIComponent(code)}`;

function finishBody(batch: BatchView, sent: Sent): Record<string, unknown> {
  const isBulk = batch.measure === 'weighed';
  const density = written(sent, 'density');
  const minutes = written(sent, 'minutes');
  return {
    made: isBulk ? weightSent(sent, 'made') : written(sent, 'made'),
    density: density === undefined || density.includes('/') ? density : `${density} g/ml`,
    minutes: minutes === undefined ? undefined : Number(minutes),
    place: written(sent, 'place'),
    lossReason: written(sent, 'lossReason'),
    leaveOut: sent['leaveOut'] === 'yes',
    why: written(sent, 'why'),
    leftovers: batch.inputs.flatMap(({ position }) => {
      const left = written(sent, `left-${position}`);
      return left === undefined ? [] : [{ position, quantity: weightSent(sent, `left-${position}`) }];
    }),
  };
}
