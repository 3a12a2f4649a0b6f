/** How many codes a list holds at once; of more, the script finds what fits what is typed. */
export const CODES_MAX = 1000;

interface CodesListProps {
  id: string;
  items: readonly { code: string; name: string }[];
  /** Which kinds of items belong into it; all, where none is named. */
  kinds?: readonly string[];
}

/** Codes to choose from while typing. Any other code can be typed as well. */
export function CodesList({ id, items, kinds = [] }: CodesListProps): JSX.Element {
  return (
    <>
      <datalist id={id} data-kinds={kinds.join(' ')}>
        {items.map(({ code, name }) => (
          <option value={code} safe>
            {name}
          </option>
        ))}
      </datalist>
      {items.length >= CODES_MAX && <script src="/assets/codes.js" type="module"></script>}
    </>
  );
}
