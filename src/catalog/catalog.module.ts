import { Module } from '@nestjs/common';
import { TypeOrmModule } from '@nestjs/typeorm';
import { FormulasController } from './formulas.controller.js';
import { FormulaBookService } from './formula-book.service.js';
import { FormulasService } from './formulas.service.js';
import { ItemsController } from './items.controller.js';
import { ItemsService } from './items.service.js';
import { SheetsService } from './sheets.service.js';
import { WashingController } from './washing.controller.js';
import { WashingService } from './washing.service.js';
import { WorkshopController } from './workshop.controller.js';
import { WorkshopService } from './workshop.service.js';
import { Formula, FormulaLine, FormulaStep } from './formula.entity.js';
import { Item, UseLimit } from './item.entity.js';
import { ClosedDay, Vessel, Workshop } from './workshop.entity.js';

@Module({
  imports: [TypeOrmModule.forFeature([Item, Formula, FormulaLine, FormulaStep, Workshop, Vessel, ClosedDay, UseLimit])],
  controllers: [ItemsController, FormulasController, WorkshopController, WashingController],
  providers: [FormulaBookService, ItemsService, FormulasService, SheetsService, WorkshopService, WashingService],
  exports: [FormulaBookService, ItemsService, FormulasService, SheetsService, WorkshopService, WashingService],
})
export class CatalogModule {}
