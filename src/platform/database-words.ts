/** What the database names of a row it refuses: columns and their values. */
const KEY = /^Key \((.*?)\)=\((.*)\)/;
/** Columns that hold what nobody sees: numbers of rows, whose the row is, what is hashed. */
const UNSEEN = /(^|_)(id|ids|uuid|hash)$/;

/** What can be put right where two things have the same key, in words; and which field that is, where it is one. */
export function takenWords(detail: string | undefined): { words: string; field?: string } {
  const seen = seenKeys(detail);
  const last = seen.at(-1);
  if (!last) return { words: 'This is there already. Choose another.' };
  return { words: `“${last.value}” is there already. Choose another.`, field: asField(last.column) };
}

/** Of a key the columns a person knows. Values with commas in them cannot be told apart, and are left out. */
function seenKeys(detail: string | undefined): { column: string; value: string }[] {
  const [, names = '', held = ''] = KEY.exec(detail ?? '') ?? [];
  const columns = names.split(', ').map((name) => name.replaceAll(/^lower\(|::text|[()"]/g, ''));
  const values = held.split(', ');
  if (values.length !== columns.length) return [];
  return columns.flatMap((column, at) =>
    column === '' || UNSEEN.test(column) ? [] : [{ column, value: values[at] ?? '' }],
  );
}

/** What is named and not there, or is there and named elsewhere. */
export const missingWords = (detail: string | undefined): string =>
  /still referenced/.test(detail ?? '')
    ? 'Something else still uses this, so it stays.'
    : 'This names something that is not there. Look whether it is written right.';

/** `promise_days` is called `promiseDays` where it is sent. */
const asField = (column: string): string => column.replaceAll(/_([a-z])/g, (_, letter: string) => letter.toUpperCase());
