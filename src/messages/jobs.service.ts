import { Injectable } from '@nestjs/common';
import { Database } from '../platform/database.js';
import type { JobsView } from './jobs.schema.js';
import { OutboxService } from './outbox.service.js';
import { QueueService } from './queue.service.js';

const FAILING_SHOWN = 100;

/** How the jobs are doing: the queue, the outbox, the last look for what is due. */
@Injectable()
export class JobsService {
  constructor(
    private readonly database: Database,
    private readonly outbox: OutboxService,
    private readonly queue: QueueService,
  ) {}

  async view(): Promise<JobsView> {
    const [queue, outbox, failing, sweeps] = await Promise.all([
      this.queue.state(),
      this.outbox.state(),
      this.outbox.failing(FAILING_SHOWN),
      this.database.read((tx) => tx.query<NonNullable<JobsView['lastSweep']>[]>(LAST_SWEEP)),
    ]);
    return { queue, outbox, failing, lastSweep: sweeps[0] ?? null };
  }

  /** The same as numbers, in the text format that monitoring systems read (OpenMetrics' older form). */
  async metrics(): Promise<string> {
    const { queue, outbox, lastSweep } = await this.view();
    const lines = [
      ...gauge('lotwright_messages', 'Messages by what became of them', [
        ['status="waiting"', outbox.waiting],
        ['status="handed"', outbox.handed],
        ['status="sent"', outbox.sent],
        ['status="dropped"', outbox.dropped],
        ['status="given-up"', outbox.givenUp],
      ]),
      ...gauge('lotwright_message_overdue_seconds', 'How long the oldest due message has been waiting', [
        ['', outbox.oldestDueSeconds ?? 0],
      ]),
      ...gauge('lotwright_queue_up', 'Whether the queue answers', [[`backend="${queue.kind}"`, queue.reached ? 1 : 0]]),
      ...gauge('lotwright_jobs', 'Jobs by state, of those kept', [
        ['state="waiting"', queue.waiting],
        ['state="active"', queue.active],
        ['state="delayed"', queue.delayed],
        ['state="completed"', queue.completed],
        ['state="failed"', queue.failed],
      ]),
      ...gauge('lotwright_workers', 'Workers connected', [['', queue.workers]]),
      ...gauge('lotwright_sweep_seconds', 'How long the last look for what is due took', [
        ['', (lastSweep?.tookMs ?? 0) / 1000],
      ]),
    ];
    return `${lines.join('\n')}\n`;
  }
}

function gauge(name: string, help: string, values: [string, number][]): string[] {
  const rows = values.map(([labels, value]) => `${name}${labels === '' ? '' : `{${labels}}`} ${value}`);
  return [`# HELP ${name} ${help}`, `# TYPE ${name} gauge`, ...rows];
}

const LAST_SWEEP = `
  select day, to_char(done_at at time zone 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"') as "doneAt", found, added, ended,
    took_ms as "tookMs"
  from sweep order by id desc limit 1`;
