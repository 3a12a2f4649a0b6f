import { Injectable } from '@nestjs/common';
import { type CalendarEvent, calendarText } from '../messages/calendar-text.js';
import { NoticeSettingsService } from '../messages/notice-settings.service.js';
import { Clock } from '../platform/clock.js';
import { Database } from '../platform/database.js';
import { Problem } from '../platform/problem.js';
import { ReorderService } from '../reorder/reorder.service.js';

/** Days of work that is over are left in the calendar so long. */
const PAST_DAYS = 30;

interface BatchRow {
  code: string;
  name: string;
  day: string;
  readyOn: string;
  isMade: boolean;
}

/** The days of the workshop for whoever knows the secret address: pours, releases, last days to order. */
@Injectable()
export class CalendarService {
  constructor(
    private readonly database: Database,
    private readonly clock: Clock,
    private readonly settings: NoticeSettingsService,
    private readonly reorder: ReorderService,
  ) {}

  /** The calendar as text. Throws 404 where the secret is not, or is no longer, the calendar's. */
  async text(secret: string): Promise<string> {
    await this.settings.admitToCalendar(secret);
    const today = await this.clock.today();
    const { name, address, batches } = await this.database.read(async (tx) => {
      const [about] = await tx.query<[{ name: string; address: string }]>(
        `select coalesce((select name from workshop), 'Workshop') as name,
           rtrim(coalesce((select address from bench_rules), ''), '/') as address`,
      );
      return { ...about, batches: await tx.query<BatchRow[]>(BATCHES, [today, PAST_DAYS]) };
    });
    const at = (path: string): string => (address === '' ? '' : `${address}${path}`);
    return calendarText(
      name,
      [...batches.flatMap((row) => batchEvents(row, at)), ...(await this.orders(at))],
      new Date(),
    );
  }

  private async orders(at: (path: string) => string): Promise<CalendarEvent[]> {
    try {
      const { rows } = await this.reorder.list();
      return rows
        .filter((row) => row.orderBy !== null && row.wanted > 0)
        .map((row) => ({
          uid: `order-${row.item}@lotwright`,
          day: row.orderBy!,
          title: `Last day to order ${row.name}`,
          detail: row.packs.map(({ key, count }) => `${count} × ${key}`).join('\n'),
          url: at(`/why/reorder/${row.item}`),
        }));
    } catch (error) {
      // a plan that cannot be made takes nothing from the days that are known
      if (error instanceof Problem) return [];
      throw error;
    }
  }
}

function batchEvents({ code, name, day, readyOn, isMade }: BatchRow, at: (path: string) => string): CalendarEvent[] {
  const url = at(`/batches/${encodeURIComponent(code)}`);
  const pour = { uid: `pour-${code}@lotwright`, day, title: `Make ${name}`, detail: `Batch ${code}`, url };
  const release = {
    uid: `release-${code}@lotwright`,
    day: readyOn,
    title: `Release ${name}`,
    detail: `Batch ${code} has rested${isMade ? '' : ', if it is made on the day planned'}`,
    url,
  };
  return readyOn === day ? [pour] : [pour, release];
}

const BATCHES = `
  select b.code, i.name, b.day, b.ready_on as "readyOn", b.status not in ('planned', 'reserved') as "isMade"
  from batch b join item i on i.id = b.item_id
  where b.status in ('planned', 'reserved', 'weighed', 'resting', 'released')
    and b.ready_on >= $1::date - $2::int
  order by b.day, b.code`;
