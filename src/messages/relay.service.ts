import { Inject, Injectable, Logger } from '@nestjs/common';
import type { OnApplicationBootstrap, OnModuleDestroy } from '@nestjs/common';
import { DataSource } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { Clock } from '../platform/clock.js';
import { DUE, OutboxService } from './outbox.service.js';
import { QueueService } from './queue.service.js';

/** How often it is made sure that the nightly look is still in the queue. */
const SCHEDULE_MS = 5 * 60_000;

interface Asked {
  due: boolean;
  changed: boolean;
  isNewDay: boolean;
  zone: string;
}

/**
 * Hands what is due to the queue. It asks by reading only: a transaction that changes nothing has no number, so plans that
 * are remembered for a moment of the database stay good while nothing is due.
 */
@Injectable()
export class RelayService implements OnApplicationBootstrap, OnModuleDestroy {
  private readonly logger = new Logger('relay');
  private timer: NodeJS.Timeout | undefined;
  private running: Promise<void> | undefined;
  private scheduled = { zone: '', at: 0 };
  private sweptAt = 0;
  private isStopping = false;

  constructor(
    private readonly dataSource: DataSource,
    private readonly clock: Clock,
    private readonly outbox: OutboxService,
    private readonly queue: QueueService,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  onApplicationBootstrap(): void {
    if (this.config.worker === 'here') this.next(0);
  }

  async onModuleDestroy(): Promise<void> {
    this.isStopping = true;
    clearTimeout(this.timer);
    await this.running;
  }

  /** Looks once, and hands over until nothing is due. Throws where the database or the queue cannot be reached. */
  async look(): Promise<void> {
    const today = await this.clock.today();
    const [asked] = await this.dataSource.query<[Asked]>(ASK, [today, this.config.relay.quietSeconds]);
    if (asked.zone !== this.scheduled.zone || Date.now() - this.scheduled.at > SCHEDULE_MS) {
      await this.queue.keepNightly(asked.zone);
      this.scheduled = { zone: asked.zone, at: Date.now() };
    }
    if ((asked.changed || asked.isNewDay) && Date.now() - this.sweptAt > this.config.relay.sweepsMs) {
      this.sweptAt = Date.now();
      await this.queue.add([
        {
          name: 'sweep',
          data: { because: asked.isNewDay ? 'day' : 'change' },
          // one look at a time: what changes meanwhile is still written down when it ends
          options: { deduplication: { id: 'sweep' } },
        },
      ]);
    }
    if (asked.due) await this.handOver();
  }

  private async handOver(): Promise<void> {
    while (!this.isStopping) {
      const claimed = await this.outbox.claim();
      if (claimed.length === 0) return;
      try {
        await this.queue.add(
          claimed.map(({ message, offers }) => ({
            name: 'send',
            data: { message },
            // another offer is another job: the one before may still lie there as failed
            options: { jobId: `message-${message}-${offers}` },
          })),
        );
      } catch (error) {
        await this.outbox.giveBack(claimed);
        throw error;
      }
    }
  }

  private next(ms: number): void {
    if (this.isStopping) return;
    this.timer = setTimeout(() => {
      this.running = this.look()
        .catch((error: Error) => this.logger.warn(error.message))
        .finally(() => this.next(this.config.relay.lookMs));
    }, ms);
  }
}

const ASK = `
  select exists (select from message where ${DUE}) as due,
    exists (select from change where at < now() - make_interval(secs => $2)) as changed,
    not exists (select from sweep where day = $1) and exists (select from workshop) as "isNewDay",
    coalesce((select time_zone from workshop), 'UTC') as zone`;
