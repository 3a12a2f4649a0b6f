import { Module } from '@nestjs/common';
import type { DynamicModule } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { Clock } from './clock.js';
import { Database } from './database.js';
import { DATABASE_URL } from './database-url.js';
import { DiskSpace } from './disk-space.js';
import { HealthController } from './health.controller.js';
import { poolOptions } from './pool-options.js';

/** What every room stands on, given to all of them without an import. */
@Module({})
export class PlatformModule {
  /** `databaseUrl` connects as the role the application serves as. */
  static with(config: Config, databaseUrl: string): DynamicModule {
    return {
      module: PlatformModule,
      global: true,
      imports: [
        TypeOrmModule.forRoot({
          ...poolOptions(databaseUrl),
          poolSize: config.databaseConnections,
          autoLoadEntities: true,
          retryAttempts: 0,
        }),
      ],
      controllers: [HealthController],
      providers: [
        { provide: CONFIG, useValue: config },
        { provide: DATABASE_URL, useValue: databaseUrl },
        Clock,
        DiskSpace,
        Database,
      ],
      exports: [CONFIG, DATABASE_URL, Clock, Database],
    };
  }
}
