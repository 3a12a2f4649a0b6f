import { Controller, Get } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { DataSource } from 'typeorm';
import { z } from 'zod';
import { DISK_FULL } from './disk-full.js';
import { DiskSpace } from './disk-space.js';
import { MIGRATIONS } from './migrate.js';
import { Problem } from './problem.js';
import { VERSION } from './program-version.js';

const alive = z.object({ status: z.literal('ok') });
const ready = z.object({
  status: z.literal('ok'),
  version: z.string().describe('Of this Lotwright'),
  migrations: z.int().describe('How many changes the schema has had'),
});

/** For whoever watches the process: is it there, and can it work? */
@ApiTags('health')
@Controller('health')
export class HealthController {
  constructor(
    private readonly dataSource: DataSource,
    private readonly disk: DiskSpace,
  ) {}

  @Get('live')
  @ApiOperation({ summary: 'The process answers' })
  @ApiOkResponse({ standardSchema: alive })
  live(): z.infer<typeof alive> {
    return { status: 'ok' };
  }

  @Get('ready')
  @ApiOperation({ summary: 'The database answers, its schema is the present one, and there is room to write' })
  @ApiOkResponse({ standardSchema: ready })
  async ready(): Promise<z.infer<typeof ready>> {
    const rows: { name: string }[] = await this.dataSource.query('select name from migrations');
    const done = new Set(rows.map((row) => row.name));
    const missing = MIGRATIONS.filter((migration) => !done.has(migration.name));
    if (missing.length > 0) {
      const detail = `The database lacks ${missing.map((migration) => migration.name).join(', ')}.`;
      throw new Problem({ status: 503, code: 'schema-behind', detail });
    }
    if (await this.disk.isFull()) throw new Problem({ ...DISK_FULL, status: 503 });
    return { status: 'ok', version: VERSION, migrations: done.size };
  }
}
