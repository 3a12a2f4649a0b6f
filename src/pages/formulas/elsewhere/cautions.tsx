import type { Step } from '../../../catalog/formula.entity.js';
import type { Family, ItemKind } from '../../../catalog/item.entity.js';
import { STEP_WORDS } from './formula-words.js';

interface Made {
  kind: ItemKind;
  family: Family;
  flammable: boolean;
}

interface Part {
  name: string;
  family: Family;
  flammable: boolean;
}

/** The usual cautions for what is made and what goes into it: common practice, no source, and never all there are. */
export function cautionsOf(item: Made, parts: readonly Part[]): string[] {
  const burning = [...new Set(parts.filter((part) => part.flammable).map((part) => part.name))];
  const isBulk = item.kind === 'bulk';
  return [
    burning.length > 0 || item.flammable
      ? `Burns${burning.length > 0 ? `: ${burning.join(', ')}` : ''}. No flame, no spark, no hot plate in the room, fresh air, an extinguisher within reach, and no more on the bench than the day needs.`
      : '',
    isBulk && item.family === 'soap'
      ? 'Lye burns eyes and skin: goggles, gloves, long sleeves. Lye into the water, never water into the lye. No aluminium.'
      : '',
    item.family === 'candle' || (isBulk && /wax/i.test(parts.map((part) => part.name).join(' ')))
      ? 'Hot wax burns skin and can catch fire: a water bath and a thermometer, never left alone, never water on burning wax.'
      : '',
    parts.some((part) => part.family === 'fragrance')
      ? 'Fragrances can irritate skin and eyes: gloves, and the safety data sheet of each at hand.'
      : '',
    item.family === 'body'
      ? 'It goes on skin or linen: each fragrance stays under the limit its certificate states for that use.'
      : '',
  ].filter((caution) => caution !== '');
}

export function Cautions({ item, parts }: { item: Made; parts: readonly Part[] }): JSX.Element {
  const cautions = cautionsOf(item, parts);
  return (
    <div class="note care cautions">
      {cautions.length > 0 && (
        <ul>
          {cautions.map((caution) => (
            <li safe>{caution}</li>
          ))}
        </ul>
      )}
      <p>
        These are usual cautions, not all there are. Safety data sheets, licensed practice and the codes of your place
        come first.
      </p>
    </div>
  );
}

/** The method, one instruction after the other. */
export function StepList({ steps }: { steps: readonly { phase: Step; instruction: string }[] }): JSX.Element {
  return (
    <ol>
      {steps.map(({ phase, instruction }) => (
        <li>
          <strong safe>{STEP_WORDS[phase]}</strong>: <span safe>{instruction}</span>
        </li>
      ))}
    </ol>
  );
}
