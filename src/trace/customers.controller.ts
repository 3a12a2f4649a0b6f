import { Body, Controller, Get, HttpCode, Param, Post, Put, Query } from '@nestjs/common';
import { ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { idParam } from '../platform/schema.js';
import { contactPut, customerList, customerQuery, customerView } from './contacts.schema.js';
import type { ContactPut, CustomerList, CustomerQuery, CustomerView } from './contacts.schema.js';
import { ContactsService } from './contacts.service.js';
import { erased, erasureAct, erasurePreview } from './erasure.schema.js';
import type { Erased, ErasureAct, ErasurePreview } from './erasure.schema.js';
import { ErasureService } from './erasure.service.js';

@ApiTags('trace')
@Controller('api/customers')
export class CustomersController {
  constructor(
    private readonly contacts: ContactsService,
    private readonly erasures: ErasureService,
  ) {}

  @Get()
  @ApiOperation({ summary: 'Customers and how to reach them, one page at a time' })
  @ApiOkResponse({ standardSchema: customerList })
  list(@Query({ schema: customerQuery }) query: CustomerQuery): Promise<CustomerList> {
    return this.contacts.list(query);
  }

  @Put(':id/contact')
  @ApiOperation({ summary: 'Say how a customer is reached' })
  @ApiOkResponse({ standardSchema: customerView })
  putContact(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: contactPut }) body: ContactPut,
  ): Promise<CustomerView> {
    return this.contacts.putContact(who, id, body);
  }

  @Get(':id/erasure')
  @ApiOperation({ summary: 'What would be changed to forget who a customer was: every place, before and after' })
  @ApiOkResponse({ standardSchema: erasurePreview })
  preview(@Param('id', { schema: idParam }) id: number): Promise<ErasurePreview> {
    return this.erasures.preview(id);
  }

  @Post(':id/erase')
  @HttpCode(200)
  @ApiOperation({ summary: 'Forget who a customer was, as the preview showed it; what they got stays' })
  @ApiOkResponse({ standardSchema: erased })
  erase(
    @Who() who: string,
    @Param('id', { schema: idParam }) id: number,
    @Body({ schema: erasureAct }) body: ErasureAct,
  ): Promise<Erased> {
    return this.erasures.erase(who, id, body);
  }
}
