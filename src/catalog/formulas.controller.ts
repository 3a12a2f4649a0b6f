import { Body, Controller, Get, HttpCode, Param, Post } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { ApiProblem } from '../platform/problem-schema.js';
import { idParam, itemCode } from '../platform/schema.js';
import type {
  FormulaCreate,
  FormulaSummary,
  FormulaView,
  ScaleInput,
  SheetView,
  Solution,
  SolveInput,
} from './formulas.schema.js';
import {
  formulaCreate,
  formulaList,
  formulaProblem,
  formulaView,
  scaleInput,
  sheetView,
  solution,
  solveInput,
} from './formulas.schema.js';
import { FormulasService } from './formulas.service.js';
import { SheetsService } from './sheets.service.js';

@ApiTags('formulas')
@Controller('api')
export class FormulasController {
  constructor(
    private readonly formulas: FormulasService,
    private readonly sheets: SheetsService,
  ) {}

  @Get('items/:code/formulas')
  @ApiOperation({ summary: 'The versions of an item, newest first' })
  @ApiOkResponse({ standardSchema: formulaList })
  list(@Param('code', { schema: itemCode }) code: string): Promise<{ formulas: FormulaSummary[] }> {
    return this.formulas.list(code);
  }

  @Post('items/:code/formulas')
  @ApiProblem(formulaProblem)
  @ApiOperation({ summary: 'Add the next version, current from then on' })
  @ApiCreatedResponse({ standardSchema: formulaView })
  create(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: formulaCreate }) body: FormulaCreate,
  ): Promise<FormulaView> {
    return this.formulas.create(who, code, body);
  }

  @Get('formulas/:id')
  @ApiOperation({ summary: 'One version with its lines and steps' })
  @ApiOkResponse({ standardSchema: formulaView })
  get(@Param('id', { schema: idParam }) id: number): Promise<FormulaView> {
    return this.formulas.get(id);
  }

  @Post('formulas/solve')
  @HttpCode(200)
  @ApiOperation({ summary: 'What is in one part of it, without saving' })
  @ApiOkResponse({ standardSchema: solution })
  solve(@Body({ schema: solveInput }) body: SolveInput): Promise<Solution> {
    return this.sheets.solve(body);
  }

  @Post('formulas/:id/scale')
  @HttpCode(200)
  @ApiOperation({ summary: 'The sheet of a batch at the workshop scale' })
  @ApiOkResponse({ standardSchema: sheetView })
  scale(
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: scaleInput }) body: ScaleInput,
  ): Promise<SheetView> {
    return this.sheets.scale(id, body);
  }
}
