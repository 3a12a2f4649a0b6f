import { statfs } from 'node:fs/promises';
import { join } from 'node:path';
import { Inject, Injectable } from '@nestjs/common';
import { DataSource } from 'typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { DISK_FULL, isDiskFull } from './disk-full.js';
import { Problem } from './problem.js';

/**
 * PostgreSQL ends where its log of changes finds no room, and then nobody can even read. It takes room 16 MB at a time, so
 * where we run it ourselves, acts stop while there is still room for two of those.
 */
const KEPT_FREE_BYTES = 32 * 1024 * 1024;

/** So long what was enough counts as enough: nobody fills 32 MB with acts in it. */
const ENOUGH_MS = 500;

/** So often at most it is tried whether there is room again: to find out costs the database a file of 20 MB. */
const PROBE_MS = 1000;

/**
 * Sorts more than may stay in memory, so that PostgreSQL writes it to a file beside its data and takes that away again. It is
 * a look and no act, so it writes nothing to its log of changes, and any user on any server may do it.
 */
const PROBE = `set local work_mem = '64kB'; set local statement_timeout = '10s';
  select count(*) from (select repeat(md5(n::text), 256) as wide from generate_series(1, 2500) as n order by 1 offset 0) as s`;

/**
 * Whether there is room to write. A database that runs elsewhere tells only by refusing an act; from then on no act begins
 * until it was tried out that there is room again. Looking goes on all the while.
 */
@Injectable()
export class DiskSpace {
  private hasFailed = false;
  private probing: Promise<boolean> | undefined;
  private probedAt = -Infinity;
  private enoughAt = -Infinity;

  constructor(
    private readonly dataSource: DataSource,
    @Inject(CONFIG) private readonly config: Pick<Config, 'home' | 'databaseUrl'>,
  ) {}

  /** Throws 507 `disk-full` where an act would not find room. */
  async demand(): Promise<void> {
    if (await this.isFull()) throw new Problem(DISK_FULL);
  }

  async isFull(): Promise<boolean> {
    return (await this.isScarce()) || (this.hasFailed && !(await this.hasRoomAgain()));
  }

  /** Looks whether an error is that there was no room. */
  note(error: unknown): void {
    if (isDiskFull(error)) this.hasFailed = true;
  }

  private async isScarce(): Promise<boolean> {
    if (this.config.databaseUrl !== undefined || performance.now() - this.enoughAt < ENOUGH_MS) return false;
    try {
      const { bavail, bsize } = await statfs(join(this.config.home, 'data'));
      if (bavail * bsize < KEPT_FREE_BYTES) return true;
    } catch {
      // the data lie elsewhere, or whoever asks may not look
    }
    this.enoughAt = performance.now();
    return false;
  }

  /** Those who ask at once wait for one answer. */
  private async hasRoomAgain(): Promise<boolean> {
    if (!this.probing && performance.now() - this.probedAt < PROBE_MS) return false;
    this.probing ??= this.probe().finally(() => {
      this.probedAt = performance.now();
      this.probing = undefined;
    });
    return this.probing;
  }

  private async probe(): Promise<boolean> {
    const runner = this.dataSource.createQueryRunner();
    try {
      await runner.query(`start transaction read only; ${PROBE}; commit`);
      this.hasFailed = false;
    } catch (error) {
      await runner.query('rollback').catch(() => {});
      // what failed for another reason says nothing of the disk, and the next act finds out
      if (!isDiskFull(error)) throw error;
    } finally {
      await runner.release();
    }
    return !this.hasFailed;
  }
}
