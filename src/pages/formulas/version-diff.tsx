import type { BookLine, BookVersion, FormulaBook } from '../../catalog/formula-book.service.js';
import type { ItemView } from '../../catalog/items.schema.js';
import { partText, statedText, STEP_WORDS } from './elsewhere/formula-words.js';
import { amountText } from '../../ui/amounts.js';
import { count } from '../../ui/words.js';

interface DiffRow {
  name: string;
  now: string | null;
  before: string | null;
}

/** Two versions side by side, what differs marked in words. */
export function VersionDiff({ book }: { book: FormulaBook }): JSX.Element {
  const { shown, beside, item } = book;
  if (!shown || !beside) return <></>;
  const rows = [...lineRows(shown, beside), ...factRows(item, shown, beside)];
  const isSame = rows.every((row) => row.now === row.before);
  return (
    <section>
      <h2 safe>{`Version ${shown.version} beside version ${beside.version}`}</h2>
      {isSame && <p>They differ in the method or the note only.</p>}
      <table class="stack">
        <thead>
          <tr>
            <th>What</th>
            <th safe>{`Version ${shown.version}`}</th>
            <th safe>{`Version ${beside.version}`}</th>
            <th>Change</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr>
              <th scope="row" safe>
                {row.name}
              </th>
              <td data-label={`Version ${shown.version}`} safe>
                {row.now ?? '–'}
              </td>
              <td data-label={`Version ${beside.version}`} safe>
                {row.before ?? '–'}
              </td>
              <td data-label="Change">
                <ChangeMark row={row} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
      <StepChanges shown={shown} beside={beside} />
    </section>
  );
}

function ChangeMark({ row }: { row: DiffRow }): JSX.Element {
  if (row.now === row.before) return <span class="hint">the same</span>;
  if (row.before === null) return <span class="mark good">new</span>;
  if (row.now === null) return <span class="mark bad">gone</span>;
  return <span class="mark care">changed</span>;
}

/** Lines of one item belong together, the first with the first. */
function lineRows(shown: BookVersion, beside: BookVersion): DiffRow[] {
  const keysOf = (version: BookVersion) => {
    const seen = new Map<string, number>();
    return version.lines.map((line): [string, BookLine] => {
      const nth = (seen.get(line.item) ?? 0) + 1;
      seen.set(line.item, nth);
      return [`${line.item} ${nth}`, line];
    });
  };
  const now = new Map(keysOf(shown));
  const before = new Map(keysOf(beside));
  return [...new Set([...now.keys(), ...before.keys()])].map((key) => ({
    name: (now.get(key) ?? before.get(key)!).name,
    now: lineText(now.get(key)),
    before: lineText(before.get(key)),
  }));
}

function lineText(line: BookLine | undefined): string | null {
  if (!line) return null;
  return line.partPpb === null ? statedText(line) : `${partText(line.partPpb)} (${statedText(line)})`;
}

function factRows(item: ItemView, shown: BookVersion, beside: BookVersion): DiffRow[] {
  const factsOf = (version: BookVersion): [string, string][] => [
    ['Smallest batch', amountText(version.batchMin, item.measure)],
    ['Largest batch', version.batchMax === null ? 'as the vessel holds' : amountText(version.batchMax, item.measure)],
    ['Lost on the way', partText(version.lossPpb)],
    ['Stays in the vessel', amountText(version.residueMg, 'weighed')],
    ['Bench minutes', `${version.minutesBatch} a batch, ${version.secondsUnit} s for each one`],
    ['Rests', count(version.restDays, 'day')],
    ['Made in', version.vesselKind ?? 'no vessel'],
    ['Made by', version.skill === null ? 'anybody' : `who may do ${version.skill}`],
  ];
  const before = factsOf(beside);
  return factsOf(shown)
    .map(([name, now], at) => ({ name, now, before: before[at]![1] }))
    .filter((row) => row.now !== row.before);
}

function StepChanges({ shown, beside }: { shown: BookVersion; beside: BookVersion }): JSX.Element {
  const textOf = ({ phase, instruction }: BookVersion['steps'][number]): string =>
    `${STEP_WORDS[phase]}: ${instruction}`;
  const now = shown.steps.map(textOf);
  const before = beside.steps.map(textOf);
  const added = now.filter((step) => !before.includes(step));
  const gone = before.filter((step) => !now.includes(step));
  if (added.length + gone.length === 0) return <p class="hint">The method is the same in both.</p>;
  return (
    <ul>
      {added.map((step) => (
        <li>
          <span class="mark good">new</span> <span safe>{step}</span>
        </li>
      ))}
      {gone.map((step) => (
        <li>
          <span class="mark bad">gone</span> <span safe>{step}</span>
        </li>
      ))}
    </ul>
  );
}
