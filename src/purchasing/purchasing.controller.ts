import { Body, Controller, Get, HttpCode, Param, Patch, Post, Query } from '@nestjs/common';
import { ApiCreatedResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { readableCode } from '../platform/schema.js';
import { DeliveriesService } from './deliveries.service.js';
import type {
  DeliveryCreate,
  DeliveryDate,
  DeliveryDated,
  DeliveryEnd,
  DeliveryPage,
  DeliveryQuery,
  DeliveryReceive,
  DeliveryReceived,
  DeliveryView,
  PackChange,
  PackCreate,
  PackPath,
  PackQuery,
  PackView,
  SupplierChange,
  SupplierCreate,
  SupplierView,
} from './purchasing.schema.js';
import {
  deliveryCode,
  deliveryCreate,
  deliveryDate,
  deliveryDated,
  deliveryEnd,
  deliveryPage,
  deliveryQuery,
  deliveryReceive,
  deliveryReceived,
  deliveryView,
  packChange,
  packCreate,
  packList,
  packPath,
  packQuery,
  packView,
  supplierChange,
  supplierCreate,
  supplierList,
  supplierView,
} from './purchasing.schema.js';
import { ReceivingService } from './receiving.service.js';
import { SuppliersService } from './suppliers.service.js';

@ApiTags('purchasing')
@Controller('api')
export class PurchasingController {
  constructor(
    private readonly suppliers: SuppliersService,
    private readonly deliveries: DeliveriesService,
    private readonly receiving: ReceivingService,
  ) {}

  @Get('suppliers')
  @ApiOperation({ summary: 'Suppliers by code' })
  @ApiOkResponse({ standardSchema: supplierList })
  listSuppliers(): Promise<{ suppliers: SupplierView[] }> {
    return this.suppliers.list();
  }

  @Post('suppliers')
  @ApiOperation({ summary: 'Add a supplier' })
  @ApiCreatedResponse({ standardSchema: supplierView })
  createSupplier(@Who() who: string, @Body({ schema: supplierCreate }) body: SupplierCreate): Promise<SupplierView> {
    return this.suppliers.create(who, body);
  }

  @Patch('suppliers/:code')
  @ApiOperation({ summary: "Change a supplier's terms" })
  @ApiOkResponse({ standardSchema: supplierView })
  changeSupplier(
    @Who() who: string,
    @Param('code', { schema: readableCode }) code: string,
    @Body({ schema: supplierChange }) body: SupplierChange,
  ): Promise<SupplierView> {
    return this.suppliers.change(who, code, body);
  }

  @Get('packs')
  @ApiOperation({ summary: "Suppliers' packs, of one item or one supplier if asked" })
  @ApiOkResponse({ standardSchema: packList })
  listPacks(@Query({ schema: packQuery }) query: PackQuery): Promise<{ packs: PackView[] }> {
    return this.suppliers.packs(query);
  }

  @Post('packs')
  @ApiOperation({ summary: 'Add a pack' })
  @ApiCreatedResponse({ standardSchema: packView })
  createPack(@Who() who: string, @Body({ schema: packCreate }) body: PackCreate): Promise<PackView> {
    return this.suppliers.createPack(who, body);
  }

  @Patch('suppliers/:code/packs/:pack')
  @ApiOperation({ summary: 'Change the price of a pack, or say that it is no longer sold' })
  @ApiOkResponse({ standardSchema: packView })
  changePack(
    @Who() who: string,
    @Param({ schema: packPath }) { code, pack }: PackPath,
    @Body({ schema: packChange }) body: PackChange,
  ): Promise<PackView> {
    return this.suppliers.changePack(who, code, pack, body);
  }

  @Get('deliveries')
  @ApiOperation({ summary: 'Deliveries by code, one page at a time' })
  @ApiOkResponse({ standardSchema: deliveryPage })
  listDeliveries(@Query({ schema: deliveryQuery }) query: DeliveryQuery): Promise<DeliveryPage> {
    return this.deliveries.list(query);
  }

  @Post('deliveries')
  @ApiOperation({ summary: 'Expect a delivery' })
  @ApiCreatedResponse({ standardSchema: deliveryView })
  createDelivery(@Who() who: string, @Body({ schema: deliveryCreate }) body: DeliveryCreate): Promise<DeliveryView> {
    return this.deliveries.create(who, body);
  }

  @Get('deliveries/:code')
  @ApiOperation({ summary: 'One delivery with its lines' })
  @ApiOkResponse({ standardSchema: deliveryView })
  getDelivery(@Param('code', { schema: deliveryCode }) code: string): Promise<DeliveryView> {
    return this.deliveries.get(code);
  }

  @Post('deliveries/:code/receive')
  @HttpCode(200)
  @ApiOperation({ summary: 'Take in what came; promises on it move to the new lots' })
  @ApiOkResponse({ standardSchema: deliveryReceived })
  receive(
    @Who() who: string,
    @Param('code', { schema: deliveryCode }) code: string,
    @Body({ schema: deliveryReceive }) body: DeliveryReceive,
  ): Promise<DeliveryReceived> {
    return this.receiving.receive(who, code, body);
  }

  @Post('deliveries/:code/date')
  @HttpCode(200)
  @ApiOperation({ summary: 'Expect it on another day' })
  @ApiOkResponse({ standardSchema: deliveryDated })
  redate(
    @Who() who: string,
    @Param('code', { schema: deliveryCode }) code: string,
    @Body({ schema: deliveryDate }) body: DeliveryDate,
  ): Promise<DeliveryDated> {
    return this.deliveries.redate(who, code, body);
  }

  @Post('deliveries/:code/end')
  @HttpCode(200)
  @ApiOperation({ summary: 'Say that nothing more of it comes' })
  @ApiOkResponse({ standardSchema: deliveryDated })
  end(
    @Who() who: string,
    @Param('code', { schema: deliveryCode }) code: string,
    @Body({ schema: deliveryEnd }) body: DeliveryEnd,
  ): Promise<DeliveryDated> {
    return this.deliveries.end(who, code, body.why);
  }
}
