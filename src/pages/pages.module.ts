import { Module } from '@nestjs/common';
import { PlanningModule } from '../planning/planning.module.js';
import { AssetsController } from './assets.controller.js';
import { WeekPage } from './week.js';
import { WhyPage } from './why.js';

@Module({ imports: [PlanningModule], controllers: [AssetsController, WeekPage, WhyPage] })
export class PagesModule {}
