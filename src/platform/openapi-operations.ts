import type { OpenAPIObject } from '@nestjs/swagger';

const METHODS = ['get', 'post', 'put', 'patch', 'delete'] as const;

export type Operation = NonNullable<OpenAPIObject['paths'][string]['get']>;
type Parameter = Extract<NonNullable<Operation['parameters']>[number], { name: string }>;
type Reference = Exclude<NonNullable<Operation['parameters']>[number], { name: string }>;

export interface PlacedOperation {
  path: string;
  method: (typeof METHODS)[number];
  operation: Operation;
}

export const operationsOf = (document: OpenAPIObject): PlacedOperation[] =>
  Object.entries(document.paths).flatMap(([path, item]) =>
    METHODS.flatMap((method) => (item[method] ? [{ path, method, operation: item[method] }] : [])),
  );

/**
 * Writes each parameter that several routes take once, and has them point to it. It goes by its name and place, such as
 * `limit.query`; where different ones have the same, the one that most routes take does, and the others by their schema too.
 */
export function nameParameters(document: OpenAPIObject): Record<string, Parameter> {
  const uses = new Map<string, { parameter: Parameter; count: number }>();
  for (const { operation } of operationsOf(document))
    for (const parameter of operation.parameters ?? []) {
      if (!('name' in parameter)) continue;
      sayOnce(parameter);
      const use = uses.get(JSON.stringify(parameter));
      if (use) use.count++;
      else uses.set(JSON.stringify(parameter), { parameter, count: 1 });
    }
  const shared = [...uses].filter(([, { count }]) => count > 1).sort(([, a], [, b]) => b.count - a.count);
  const parameters: Record<string, Parameter> = {};
  const nameOf = new Map<string, string>();
  for (const [text, { parameter }] of shared) {
    const name = freeName(parameter, parameters);
    parameters[name] = parameter;
    nameOf.set(text, name);
  }
  for (const { operation } of operationsOf(document))
    operation.parameters = operation.parameters?.map((parameter): Parameter | Reference => {
      const name = nameOf.get(JSON.stringify(parameter));
      return name === undefined ? parameter : { $ref: `#/components/parameters/${name}` };
    });
  return parameters;
}

/** The framework says of a parameter and of its schema the same. */
function sayOnce({ description, schema }: Parameter): void {
  if (schema && 'description' in schema && schema.description === description) delete schema.description;
}

function freeName({ name, in: place, schema }: Parameter, taken: Record<string, Parameter>): string {
  const base = `${name}.${place}`;
  if (!(base in taken)) return base;
  const type = schema && '$ref' in schema ? schema.$ref.split('/').at(-1)! : 'other';
  for (let i = 1; ; i++) {
    const tried = i === 1 ? `${base}.${type}` : `${base}.${type}.${i}`;
    if (!(tried in taken)) return tried;
  }
}
