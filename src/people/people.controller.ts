import { Body, Controller, Delete, Get, HttpCode, Param, Post, Put } from '@nestjs/common';
import { ApiCreatedResponse, ApiNoContentResponse, ApiOkResponse, ApiOperation, ApiTags } from '@nestjs/swagger';
import { Who } from '../platform/person.js';
import { peopleList, personPath, personPut, personView } from './people.schema.js';
import type { PersonPath, PersonPut, PersonView } from './people.schema.js';
import { PeopleService } from './people.service.js';

@ApiTags('workshop')
@Controller('api/people')
export class PeopleController {
  constructor(private readonly people: PeopleService) {}

  @Get()
  @ApiOperation({ summary: 'Who works here, when, and what only some may do' })
  @ApiOkResponse({ standardSchema: peopleList })
  list(): Promise<{ people: PersonView[] }> {
    return this.people.list();
  }

  @Post()
  @ApiOperation({ summary: 'Add somebody' })
  @ApiCreatedResponse({ standardSchema: personView })
  add(@Who() who: string, @Body({ schema: personPut }) body: PersonPut): Promise<PersonView> {
    return this.people.add(who, body);
  }

  @Put(':id')
  @ApiOperation({ summary: 'Say all of it anew' })
  @ApiOkResponse({ standardSchema: personView })
  change(
    @Who() who: string,
    @Param({ schema: personPath }) { id }: PersonPath,
    @Body({ schema: personPut }) body: PersonPut,
  ): Promise<PersonView> {
    return this.people.change(who, id, body);
  }

  @Delete(':id')
  @HttpCode(204)
  @ApiOperation({ summary: 'Take somebody off the list; records keep their name' })
  @ApiNoContentResponse()
  takeOff(@Who() who: string, @Param({ schema: personPath }) { id }: PersonPath): Promise<void> {
    return this.people.takeOff(who, id);
  }
}
