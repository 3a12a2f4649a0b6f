import { ConsoleLogger } from '@nestjs/common';
import type { LoggerService } from '@nestjs/common';
import { NestFactory } from '@nestjs/core';
import type { NestFastifyApplication } from '@nestjs/platform-fastify';
import { AppModule } from './app.module.js';
import { LOG_LEVELS } from './config.js';
import type { Config } from './config.js';
import { problemPage } from './ui/problem-page.js';
import { configureHttp, httpAdapter } from './platform/http.js';

export interface ApplicationOptions {
  /** Instead of the console; false is silent. */
  logger?: LoggerService | false;
  /** Modules beside the application's own, for tests. */
  imports?: (new () => unknown)[];
  /** Whether this process works jobs where the settings leave them to it. A program that only asks something does not. */
  worksJobs?: boolean;
}

/** The whole application on a database of the present schema, ready to answer but not yet listening. */
export async function makeApplication(
  config: Config,
  databaseUrl: string,
  options: ApplicationOptions = {},
): Promise<NestFastifyApplication> {
  const settings: Config = { ...config, worker: options.worksJobs ? config.worker : 'separate' };
  const root = { module: class Root {}, imports: [AppModule.with(settings, databaseUrl), ...(options.imports ?? [])] };
  const app = await NestFactory.create<NestFastifyApplication>(root, httpAdapter(), {
    logger: options.logger ?? consoleLogger(config),
    // a fault is thrown, so that whoever started the database can stop it
    abortOnError: false,
  });
  configureHttp(app, config.host, problemPage);
  await app.init();
  await app.getHttpAdapter().getInstance().ready();
  return app;
}

/** Lines for a person at a terminal, JSON for whatever else reads them. */
function consoleLogger({ logLevel }: Config): ConsoleLogger {
  const logLevels = LOG_LEVELS.slice(0, LOG_LEVELS.indexOf(logLevel) + 1);
  return new ConsoleLogger({ json: !process.stdout.isTTY, logLevels: ['fatal', ...logLevels] });
}
