import type { BatchView } from '../../bench/bench.schema.js';

type Line = BatchView['inputs'][number];

/*
 * The usual cautions at the step where they matter: common practice, no source, and never all there are.
 */
const BURNS =
  'It and its vapour burn, and the vapour creeps along the floor: no flame, no spark, no hot plate in the room, windows open, an extinguisher within reach. Earth the drum and the vessel together before you pour from a drum. No more on the bench than the day needs: how much may be stored is set by your fire code.';
const WAX =
  'Hot wax burns skin and can catch fire: a water bath and a thermometer, and never leave it unattended. Never put water on burning wax: heat off, a lid on.';
const LYE =
  'Lye burns eyes and skin: goggles, gloves, long sleeves, fresh air, nobody else near. Lye into the water, never water into the lye. No aluminium: it gives off a gas that burns.';
const RAGS =
  'Rags with oil on them can heat by themselves and catch fire: lay them flat outside to dry, or keep them under water in a closed metal can.';
const SCENT = 'Fragrances can irritate skin and eyes: gloves, and the safety data sheet of each at hand.';

const isWax = (name: string): boolean => /\bwax|paraffin/i.test(name);
const isLye = (name: string): boolean => /\blye\b|hydroxide/i.test(name);
const isOil = (name: string): boolean => /\boil\b|butter/i.test(name);

/** What to mind at one line of a batch, by its family and what is weighed; without a line, at its closing. */
export function stepCautions(batch: BatchView, line?: Line): string[] {
  const parts = line ? [line] : batch.inputs.filter(({ step }) => step !== 'pack');
  const some = (is: (part: Line) => boolean) => parts.some(is);
  const hasLye = batch.inputs.some(({ name }) => isLye(name));
  const isWaxBatch = batch.family === 'candle' || batch.inputs.some(({ name }) => isWax(name));
  const isMade = !line || line.step !== 'pack';
  return [
    some(({ flammable }) => flammable) || (!line && batch.flammable) ? BURNS : '',
    isWaxBatch &&
    isMade &&
    some(
      ({ family, name, measure }) =>
        measure === 'weighed' && (family === 'base' || isWax(name) || family === 'fragrance' || family === 'candle'),
    )
      ? WAX
      : '',
    hasLye && isMade ? LYE : '',
    some(({ name, family, measure }) => measure === 'weighed' && (isOil(name) || family === 'fragrance')) ? RAGS : '',
    some(({ family }) => family === 'fragrance') ? SCENT : '',
  ].filter((caution) => caution !== '');
}

export function StepCautions({ batch, line }: { batch: BatchView; line?: Line }): JSX.Element {
  const cautions = stepCautions(batch, line);
  if (cautions.length === 0) return <></>;
  return (
    <div class="note care cautions" role="note" aria-label="Cautions">
      <ul>
        {cautions.map((caution) => (
          <li safe>{caution}</li>
        ))}
      </ul>
      <p>Usual cautions, not all there are: safety data sheets and the codes of your place come first.</p>
    </div>
  );
}
