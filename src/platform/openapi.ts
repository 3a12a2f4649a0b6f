import type { INestApplication } from '@nestjs/common';
import { DocumentBuilder, SwaggerModule } from '@nestjs/swagger';
import type { OpenAPIObject, SwaggerDocumentOptions } from '@nestjs/swagger';
import { z } from 'zod';
import { HIT_HEADER, KEPT_HOURS, KEY_HEADER, KEY_LENGTH_MAX } from './idempotency.js';
import { PERSON_HEADER, PERSON_LENGTH_MAX } from './person.js';
import { VERSION } from './program-version.js';

const DESCRIPTION =
  `Amounts are integers in the item's base unit (milligrams if weighed, units if counted) and may be sent as text with a
unit ("2.5 kg", "16 fl oz", "3 dozen"). Money is an integer in 1/10 000 of the currency unit, its names end in E4. Fractions are integer
parts per billion, their names end in Ppb, and may be sent as percent text ("5.5 %"). Days are YYYY-MM-DD, instants ISO 8601 in UTC.
Every answer that is not a success is a problem as RFC 9457 describes it.`.replaceAll('\n', ' ');

const problem = z
  .looseObject({
    type: z.string(),
    title: z.string(),
    status: z.int(),
    detail: z.string().describe('One sentence for a person'),
    instance: z.string().describe('The path that was asked'),
    code: z.string().describe('Stable: what a program branches on'),
    errors: z
      .array(z.object({ pointer: z.string(), detail: z.string(), code: z.string().optional() }))
      .optional()
      .describe('JSON pointers into the body; /query/name and /path/name for the rest'),
  })
  .describe('Problem details, RFC 9457');

const METHODS = ['get', 'post', 'put', 'patch', 'delete'] as const;

/** The description of every route, OpenAPI 3.1, made from the same schemas that check what comes in. */
export function openApiDocument(app: INestApplication): OpenAPIObject {
  const about = new DocumentBuilder()
    .setTitle('Lotwright')
    .setDescription(DESCRIPTION)
    .setVersion(VERSION)
    .setOpenAPIVersion('3.1.0')
    .build();
  const document = SwaggerModule.createDocument(app, about, {
    standardSchemaConverter,
    operationIdFactory: (controller, method) => `${controller.replace(/Controller$/, '')}.${method}`,
  });
  document.components = { ...document.components };
  document.components.schemas = {
    ...document.components.schemas,
    Problem: jsonSchemaOf(problem, 'output').schema as object,
  };
  const problemResponse = {
    description: 'A problem',
    content: { 'application/problem+json': { schema: { $ref: '#/components/schemas/Problem' } } },
  };
  document.components.responses = { ...document.components.responses, Problem: problemResponse };
  const person = {
    name: PERSON_HEADER,
    in: 'header' as const,
    required: false,
    description: 'Who acts; "workshop" if missing',
    schema: { type: 'string', maxLength: PERSON_LENGTH_MAX },
  };
  const key = {
    name: KEY_HEADER,
    in: 'header' as const,
    required: false,
    description: `A key of your own: the same request under the same key is done once, and answered again with ${HIT_HEADER}: true for ${KEPT_HOURS} hours`,
    schema: { type: 'string', minLength: 1, maxLength: KEY_LENGTH_MAX },
  };
  for (const path of Object.values(document.paths)) {
    for (const method of METHODS) {
      const operation = path[method];
      if (!operation) continue;
      operation.responses['default'] = { $ref: '#/components/responses/Problem' };
      if (method !== 'get') operation.parameters = [...(operation.parameters ?? []), person, key];
    }
  }
  return document;
}

const standardSchemaConverter: SwaggerDocumentOptions['standardSchemaConverter'] = (schema, { schemaType }) =>
  schema instanceof z.ZodType ? jsonSchemaOf(schema, schemaType) : undefined;

/** JSON Schema 2020-12, which is what OpenAPI 3.1 speaks; named parts move to where the document keeps them. */
function jsonSchemaOf(
  schema: z.ZodType,
  io: 'input' | 'output',
): { schema: unknown; components: Record<string, unknown> } {
  const text = JSON.stringify(z.toJSONSchema(schema, { io }));
  const {
    $schema: _dialect,
    $defs: components = {},
    ...own
  } = JSON.parse(text.replaceAll('"#/$defs/', '"#/components/schemas/')) as Record<string, unknown> & {
    $defs?: Record<string, unknown>;
  };
  return { schema: own, components };
}
