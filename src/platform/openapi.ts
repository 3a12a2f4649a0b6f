import type { INestApplication } from '@nestjs/common';
import { DocumentBuilder, SwaggerModule } from '@nestjs/swagger';
import type { OpenAPIObject } from '@nestjs/swagger';
import { z } from 'zod';
import { HIT_HEADER, KEPT_HOURS, KEY_HEADER, KEY_LENGTH_MAX } from './idempotency.js';
import { NamedSchemas } from './named-schemas.js';
import type { Operation } from './openapi-operations.js';
import { nameParameters, operationsOf } from './openapi-operations.js';
import { PERSON_HEADER, PERSON_LENGTH_MAX } from './person.js';
import { problem } from './problem-schema.js';
import { VERSION } from './program-version.js';

const DESCRIPTION =
  `Amounts are integers in the item's base unit (milligrams if weighed, units if counted) and may be sent as text with a
unit ("2.5 kg", "16 fl oz", "3 dozen"). Money is an integer in 1/10 000 of the currency unit, its names end in E4. Fractions are integer
parts per billion, their names end in Ppb, and may be sent as percent text ("5.5 %"). Days are YYYY-MM-DD, instants ISO 8601 in UTC.
Every answer that is not a success is a problem as RFC 9457 describes it.`.replaceAll('\n', ' ');

/** What each part of the API is about. */
const TAGS = {
  bench: 'Batches at the bench: weigh, finish, rest, release, reject, work in',
  catalog: 'Items, and how much of a fragrance may be used in what',
  checks: 'What is checked and found at a batch, photographed, kept as a sample',
  formulas: 'How a made item is made, version by version',
  health: 'Whether the server answers and can work',
  jobs: 'What is done in the background, and how it goes',
  labels: 'What papers and labels say',
  orders: 'Channels, the codes of shops, orders and their import',
  'purchase orders': 'What is ordered from suppliers, until it is there',
  purchasing: 'Suppliers, their packs, deliveries',
  reminders: 'What there is to be told, and how it is sent',
  reorder: 'What to buy, how much, by which day',
  runs: "The week's plan: draft, committed, changed, taken back",
  shipping: 'Pick, pack, send, take back; fairs',
  stock: 'Lots and the ledger of what moved',
  trace: 'Where a lot came from and went to; complaints and recalls',
  workshop: 'The workshop itself: settings, vessels, closed days',
};

/** As package.json says: no licence is given. */
const LICENSE = { name: 'UNLICENSED', identifier: 'LicenseRef-UNLICENSED' };

const JSON_TYPE = 'application/json';

const PROBLEM = { $ref: '#/components/responses/Problem' };
const PROBLEM_RESPONSE = {
  description: 'A problem',
  content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
};

const PERSON = {
  name: PERSON_HEADER,
  in: 'header' as const,
  required: false,
  description: 'Who acts; "workshop" if missing',
  schema: { type: 'string', maxLength: PERSON_LENGTH_MAX },
};

const KEY = {
  name: KEY_HEADER,
  in: 'header' as const,
  required: false,
  description: `A key of your own: the same request under the same key is done once, and answered again with ${HIT_HEADER}: true for ${KEPT_HOURS} hours`,
  schema: { type: 'string', minLength: 1, maxLength: KEY_LENGTH_MAX },
};

/** The description of every route, OpenAPI 3.1, made from the same schemas that check what comes in. */
export function openApiDocument(app: INestApplication): OpenAPIObject {
  const about = new DocumentBuilder()
    .setTitle('Lotwright')
    .setDescription(DESCRIPTION)
    .setVersion(VERSION)
    .setOpenAPIVersion('3.1.0')
    .addServer('/', 'The Lotwright that answers this');
  for (const [name, description] of Object.entries(TAGS)) about.addTag(name, description);
  const named = new NamedSchemas();
  const made = SwaggerModule.createDocument(app, about.build(), {
    standardSchemaConverter: (schema, { schemaType }) =>
      schema instanceof z.ZodType ? { schema: named.convert(schema, schemaType) } : undefined,
    operationIdFactory: (controller, method) => `${controller.replace(/Controller$/, '')}.${method}`,
  });
  named.convert(problem, 'output');
  const { value: document, schemas } = named.settle(made);
  for (const { method, operation } of operationsOf(document)) {
    describeProblems(operation);
    if (method !== 'get') operation.parameters = [...(operation.parameters ?? []), PERSON, KEY];
  }
  const parameters = nameParameters(document);
  document.components = { schemas, parameters, responses: { Problem: PROBLEM_RESPONSE } };
  document.info.license = LICENSE;
  return document;
}

/** Every route may answer a problem; one that says more of its own refusals answers them as problems too. */
function describeProblems({ responses }: Operation): void {
  const own = responses['4XX'];
  if (own && 'content' in own && own.content) own.content = { 'application/problem+json': own.content[JSON_TYPE]! };
  responses['4XX'] ??= PROBLEM;
  responses['default'] = PROBLEM;
}
