import { Module } from '@nestjs/common';
import { StockModule } from '../stock/stock.module.js';
import { BatchesService } from './batches.service.js';
import { CorrectionService } from './correction.service.js';
import { PromisesController } from './promises.controller.js';
import { SetAsideService } from './set-aside.service.js';

const SERVICES = [BatchesService, CorrectionService, SetAsideService];

@Module({ imports: [StockModule], controllers: [PromisesController], providers: SERVICES, exports: SERVICES })
export class BatchesModule {}
