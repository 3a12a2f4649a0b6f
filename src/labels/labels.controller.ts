import { Body, Controller, Get, Param, Put, Query, Req, Res } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import type { FastifyReply, FastifyRequest } from 'fastify';
import { pdfHeaders } from '../platform/pdf.js';
import { Who } from '../platform/person.js';
import { itemCode, lineOfText } from '../platform/schema.js';
import { code128, qrCode, svgOf } from './bar-codes.js';
import type { LabelSheet } from './label-sheets.js';
import {
  allergensPut,
  allergensView,
  itemLabelPut,
  itemLabelView,
  labelPdfQuery,
  labelSheet,
  labelSheetList,
  labelSheetPut,
  labelView,
  sheetCode,
} from './labels.schema.js';
import type {
  AllergensPut,
  AllergensView,
  ItemLabelPut,
  ItemLabelView,
  LabelPdfQuery,
  LabelSheetPut,
  LabelView,
} from './labels.schema.js';
import { LabelsService } from './labels.service.js';

const lotCode = lineOfText(80);
const PDF = { content: { 'application/pdf': { schema: { type: 'string', format: 'binary' } } } } as const;
const SVG = { content: { 'image/svg+xml': { schema: { type: 'string' } } } } as const;

/** Where a request came to, as its browser wrote it. */
export const originOf = (request: FastifyRequest): string => `${request.protocol}://${request.host}`;

@ApiTags('labels')
@Controller('api')
export class LabelsController {
  constructor(private readonly labels: LabelsService) {}

  @Get('lots/:code/label')
  @ApiOperation({ summary: 'What the label of a lot says; local law decides what it must' })
  @ApiOkResponse({ standardSchema: labelView })
  label(@Param('code', { schema: lotCode }) code: string, @Req() request: FastifyRequest): Promise<LabelView> {
    return this.labels.label(code, originOf(request));
  }

  @Get('lots/:code/label.pdf')
  @ApiOperation({ summary: 'Labels of a lot to print, on a sheet or one to a page' })
  @ApiOkResponse(PDF)
  async pdf(
    @Param('code', { schema: lotCode }) code: string,
    @Query({ schema: labelPdfQuery }) query: LabelPdfQuery,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const bytes = await this.labels.pdf(code, originOf(request), query);
    void reply.headers(pdfHeaders(`labels-${code}`));
    return bytes;
  }

  @Get('lots/:code/qr.svg')
  @ApiOperation({ summary: "A QR code that leads to the lot's page" })
  @ApiOkResponse(SVG)
  async qr(
    @Param('code', { schema: lotCode }) code: string,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const { lot, address } = await this.labels.codes(code, originOf(request));
    void reply.header('content-type', 'image/svg+xml');
    return svgOf(await qrCode(address), `Lot ${lot}`);
  }

  @Get('lots/:code/code128.svg')
  @ApiOperation({ summary: 'The lot code as Code 128' })
  @ApiOkResponse(SVG)
  async bars(
    @Param('code', { schema: lotCode }) code: string,
    @Req() request: FastifyRequest,
    @Res({ passthrough: true }) reply: FastifyReply,
  ) {
    const { lot } = await this.labels.codes(code, originOf(request));
    void reply.header('content-type', 'image/svg+xml');
    return svgOf(await code128(lot), `Lot ${lot}`);
  }

  @Get('items/:code/label')
  @ApiOperation({ summary: 'What the labels of an item state beyond its formula' })
  @ApiOkResponse({ standardSchema: itemLabelView })
  itemLabel(@Param('code', { schema: itemCode }) code: string): Promise<ItemLabelView> {
    return this.labels.itemLabel(code);
  }

  @Put('items/:code/label')
  @ApiOperation({ summary: 'Set it' })
  @ApiOkResponse({ standardSchema: itemLabelView })
  putItemLabel(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: itemLabelPut }) body: ItemLabelPut,
  ): Promise<ItemLabelView> {
    return this.labels.putItemLabel(who, code, body);
  }

  @Get('items/:code/allergens')
  @ApiOperation({ summary: 'What is known of the allergens in a material' })
  @ApiOkResponse({ standardSchema: allergensView })
  allergens(@Param('code', { schema: itemCode }) code: string): Promise<AllergensView> {
    return this.labels.allergens(code);
  }

  @Put('items/:code/allergens')
  @ApiOperation({ summary: 'Set all of them' })
  @ApiOkResponse({ standardSchema: allergensView })
  putAllergens(
    @Who() who: string,
    @Param('code', { schema: itemCode }) code: string,
    @Body({ schema: allergensPut }) body: AllergensPut,
  ): Promise<AllergensView> {
    return this.labels.putAllergens(who, code, body);
  }

  @Get('label-sheets')
  @ApiOperation({ summary: 'Sheets of labels by their dimensions' })
  @ApiOkResponse({ standardSchema: labelSheetList })
  sheets(): Promise<{ labelSheets: LabelSheet[] }> {
    return this.labels.sheets();
  }

  @Put('label-sheets/:code')
  @ApiOperation({ summary: 'Add a sheet, or set its dimensions' })
  @ApiOkResponse({ standardSchema: labelSheet })
  putSheet(
    @Who() who: string,
    @Param('code', { schema: sheetCode }) code: string,
    @Body({ schema: labelSheetPut }) body: LabelSheetPut,
  ): Promise<LabelSheet> {
    return this.labels.putSheet(who, code, body);
  }
}
