import { Inject, Injectable } from '@nestjs/common';
import { DataSource } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';

/** What day it is for the workshop. The only place the server asks the time for a decision. */
@Injectable()
export class Clock {
  constructor(
    private readonly dataSource: DataSource,
    @Inject(CONFIG) private readonly config: Config,
  ) {}

  /** Today as YYYY-MM-DD in the workshop's own time zone (UTC before there is a workshop), or LOTWRIGHT_TODAY. */
  async today(): Promise<string> {
    if (this.config.today !== undefined) return this.config.today;
    const rows: { today: string }[] = await this.dataSource.query(
      `select (now() at time zone coalesce((select time_zone from workshop), 'UTC'))::date::text as today`,
    );
    return rows[0]!.today;
  }
}
