import { z } from 'zod';

/** A whole of anything written in percent, in parts per billion. */
export const WHOLE_PPB = 1_000_000_000;

/** A calendar day, YYYY-MM-DD. */
export const isoDay = z.iso.date().meta({ id: 'Day', description: 'A calendar day, YYYY-MM-DD' });

/** A calendar day far enough for anything, and near enough that days can be added to it. */
export const nearDay = isoDay.refine(
  (day) => day >= '1970-01-01' && day <= '2199-12-31',
  'must be in the years 1970 to 2199',
);

/** A moment, ISO 8601 in UTC. */
export const instant = z.iso.datetime().meta({ id: 'Instant', description: 'ISO 8601, UTC' });

/** How items, lots, orders, suppliers and vessels are called: capitals, digits, dot, dash, underscore. */
export const readableCode = z
  .string()
  .regex(
    /^[A-Z0-9][A-Z0-9._-]{0,39}$/,
    'Write 1 to 40 capitals (A to Z), digits, dots, dashes or underscores, such as LAV-100.',
  )
  .meta({ id: 'ReadableCode', description: 'A readable code' });

export const itemCode = readableCode;

/** One schema for each length, so that each has one name in the description of the API. */
function onceEach<Schema>(make: (lengthMax: number) => Schema): (lengthMax: number) => Schema {
  const made = new Map<number, Schema>();
  return (lengthMax) => {
    const schema = made.get(lengthMax) ?? make(lengthMax);
    made.set(lengthMax, schema);
    return schema;
  };
}

/**
 * What no text holds: halves of characters (lone surrogates), which PostgreSQL cannot keep, and marks that turn the direction
 * of what follows, with which one name is shown as another (Unicode Technical Report 36, section 2.4: U+202A to U+202E, and
 * U+2066 to U+2069 of Unicode 6.3).
 */
const NEVER = String.raw`\p{Cs}\u202A-\u202E\u2066-\u2069`;
const NEVER_SAID = 'must not hold control characters, halves of characters or marks that turn the direction of text';

/** One line of text: trimmed, not empty, without control characters and what is never in a text. */
export const lineOfText = onceEach((lengthMax) =>
  z
    .string()
    .trim()
    .min(1, 'must not be empty')
    .max(lengthMax, `must be ${lengthMax} characters at most`)
    .regex(new RegExp(`^[^\\p{Cc}${NEVER}]*$`, 'u'), NEVER_SAID)
    .meta({ id: `LineOf${lengthMax}` }),
);

/** Text of several lines, possibly empty: tabs and line ends are the only control characters. */
export const longText = onceEach((lengthMax) =>
  z
    .string()
    .trim()
    .max(lengthMax)
    .regex(new RegExp(`^(?:[^\\p{Cc}${NEVER}]|[\\t\\n\\r])*$`, 'u'), NEVER_SAID)
    .meta({ id: `TextOf${lengthMax}` }),
);

const UNFIT = new RegExp(`[\\p{Cc}${NEVER}]`, 'u');
/** Whether a text that comes without a schema holds what a line of text may not. */
export const isUnfit = (text: string): boolean => UNFIT.test(text);

/** The integer id of a run or a formula, as it comes in a path. */
export const idParam = z.coerce.number().int().positive().describe('An integer id');

/** An amount in the item's base unit: milligrams if it is weighed, units if it is counted. */
export const amount = z
  .int()
  .min(0)
  .meta({ id: 'Amount', description: "Integer in the item's base unit: milligrams, or units if counted" });

/** An amount as it may be sent: in the base unit, or text with a unit. The service parses text: it knows the item. */
export const amountInput = z.union([amount, lineOfText(40)]).meta({
  id: 'AmountSent',
  description: 'Integer in the base unit, or text with a unit: "2.5 kg", "16 fl oz", "3 dozen"',
});

/** Money in 1/10 000 of the workshop's currency unit. */
export const moneyE4 = z.int().min(0).meta({ id: 'MoneyE4', description: 'Money in 1/10 000 of the currency unit' });

/** A fraction in parts per billion, as it is sent back. */
export const partsPpb = z.int().min(0).meta({ id: 'PartsPpb', description: 'Parts per billion' });

/** Percent as text to parts per billion, exactly: at most 7 decimals. Undefined when it is not a percentage. */
export function ppbOfPercent(text: string): number | undefined {
  const match = /^(\d{1,6})(?:\.(\d{1,7}))?\s*%?$/.exec(text.trim());
  if (!match) return undefined;
  return Number(match[1]) * 10_000_000 + Number((match[2] ?? '').padEnd(7, '0'));
}

/** A fraction as it may be sent: integer parts per billion, or percent as text ("5.5 %" or "5.5"). Up to `ppbMax`. */
export const percentUpTo = (ppbMax: number) =>
  z
    .union([
      z.int().min(0).max(ppbMax),
      lineOfText(40).transform((text, context) => {
        const ppb = ppbOfPercent(text);
        if (ppb !== undefined && ppb <= ppbMax) return ppb;
        context.addIssue({
          code: 'custom',
          message: `must be a percentage from 0 to ${ppbMax / 10_000_000} with at most 7 decimals, such as "5.5 %"`,
        });
        return z.NEVER;
      }),
    ])
    .describe('Integer parts per billion, or percent as text: "5.5 %"');

export const percentInput = percentUpTo(WHOLE_PPB).meta({ id: 'PercentSent' });

/** How long a page of a list is. */
export const pageLimit = z.coerce.number().int().min(1).max(1000).default(100).describe('How many at most');

/** One page of a list: at most `limit` rows, those after the row called `after`. */
export const pageQuery = z.strictObject({
  limit: pageLimit,
  after: lineOfText(200).optional().describe('The last row of the page before'),
});

/** Why something is done, where nothing else is asked. */
export const whySaid = z.strictObject({ why: lineOfText(500) }).meta({ id: 'WhySaid' });

export const emailAddress = z.email().max(254).meta({ id: 'EmailAddress' });

/** What a message is known by, the same for every try. */
export const messageId = z.uuid().meta({ id: 'MessageId' });

/** Yes or no in an address. */
export const flagText = z.enum(['true', 'false']).meta({ id: 'FlagText' });
