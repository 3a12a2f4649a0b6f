import { Injectable } from '@nestjs/common';
import type { OnModuleInit } from '@nestjs/common';
import type { ReminderKind } from '../messages/messages.schema.js';
import { settingOf } from '../messages/notice-settings.service.js';
import { QueueService } from '../messages/queue.service.js';
import { type DueNotice, RemindersService } from '../messages/reminders.service.js';
import { noteSweep } from '../messages/sweeps.js';
import { PlanningThreads } from '../planning/threads/planning-threads.js';
import { CANNOT_PLAN } from '../planning/proposals.js';
import { TROUBLE_AHEAD } from '../planning/trouble-ahead.js';
import { changesSeen, drainChanges } from '../platform/changes.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { Problem } from '../platform/problem.js';
import { ReorderService } from '../reorder/reorder.service.js';
import { workshopOf } from '../catalog/workshop.service.js';
import { drawFor } from '../ui/page-workshop.js';
import { bookNotices } from './book-notices.js';
import { expiringNotices, type Named, reorderNotices, shortfallNotices } from './plan-notices.js';

const FROM_BOOKS: ReminderKind[] = ['late-delivery', 'rest-over', 'sample', 'certificate', 'count'];
const FROM_PLAN: ReminderKind[] = ['shortfall', 'reorder', 'expiring'];

export interface Swept {
  found: number;
  added: number;
  ended: number;
}

/** Looks for what is due to be told: each night, and after each change. */
@Injectable()
export class SweepService implements OnModuleInit {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly queue: QueueService,
    private readonly reminders: RemindersService,
    private readonly reorder: ReorderService,
    private readonly threads: PlanningThreads,
  ) {}

  onModuleInit(): void {
    this.queue.handle('sweep', () => this.sweep());
  }

  /** Has a worker look now. */
  ask(): Promise<void> {
    return this.queue.add([{ name: 'sweep', data: { because: 'asked' }, options: { deduplication: { id: 'sweep' } } }]);
  }

  /**
   * One look. Which changes it saw is read before anything else, so that one that comes while it looks is left for the
   * next. Of two looks at once, one does nothing.
   */
  async sweep(): Promise<Swept | 'another is at it'> {
    const began = performance.now();
    const today = await this.clock.today();
    return this.database.act({ who: 'reminders' }, async (tx) => {
      const [lock] = await tx.query<[{ taken: boolean }]>(
        `select pg_try_advisory_xact_lock(hashtext('lotwright.sweep')) as taken`,
      );
      if (!lock.taken) return 'another is at it';
      const seen = await changesSeen(tx);
      const { due, kinds } = await this.due(today);
      const { added, ended } = await this.reminders.take(tx, due, { today, kinds });
      await drainChanges(tx, seen);
      await noteSweep(tx, {
        day: today,
        found: due.length,
        added,
        ended,
        tookMs: Math.round(performance.now() - began),
      });
      return { found: due.length, added, ended };
    });
  }

  /** What is due, and of which kinds that is all; a plan that cannot be made says nothing about what comes of plans. */
  private async due(today: string): Promise<{ due: DueNotice[]; kinds: ReminderKind[] }> {
    const { books, names, workshop } = await this.database.read(async (tx) => {
      const { count_days: countDays, limit_months: limitMonths } = await settingOf(tx);
      const rows = await tx.query<(Named & { code: string })[]>('select code, name, measure from item');
      return {
        books: await bookNotices(tx, today, { countDays, limitMonths }),
        names: new Map(rows.map((row) => [row.code, row])),
        workshop: await workshopOf(tx),
      };
    });
    try {
      const trouble = await this.threads.ask(TROUBLE_AHEAD, { today });
      const { rows } = await this.reorder.list();
      const planned = drawFor({ ...workshop, scaleStep: workshop.scaleStepMg }, () => [
        ...shortfallNotices(trouble, names),
        ...reorderNotices(rows, today),
        ...expiringNotices(trouble, names),
      ]);
      return { due: [...books, ...planned], kinds: [...FROM_BOOKS, ...FROM_PLAN] };
    } catch (error) {
      if (!(error instanceof Problem) || error.code !== CANNOT_PLAN) throw error;
      return { due: books, kinds: FROM_BOOKS };
    }
  }
}
