import type { BatchView } from '../../bench/bench.schema.js';
import { exactText } from '../../ui/amounts.js';
import { WeightField } from '../../ui/amount-field.js';
import { ChoiceField, FaultNote, fieldsOf, TextField, Tick } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { weightUnit } from '../../ui/good-range.js';
import { leftOf } from './batch-words.js';
import type { Refused, SheetProps } from './sheet-props.js';
import { answersTo, unitOf } from './weigh-sent.js';

type Line = BatchView['inputs'][number];
type Field = ReturnType<typeof fieldsOf>;

/** What is weighed of which lot into a line; where something was asked about it, the same again writes it. */
export function WeighForm({ batch, line, refused }: SheetProps & { line: Line }): JSX.Element {
  const mine = refused?.form === 'weigh' ? refused : undefined;
  const field = fieldsOf('weigh', mine ?? {});
  const isWeighed = line.measure === 'weighed';
  const asked = mine === undefined ? '' : answersTo(mine);
  const isBegun = line.weighed > 0 || (mine?.asks.includes('further') ?? false);
  return (
    <form
      method="post"
      action={`/batches/${encodeURIComponent(batch.code)}/weigh`}
      data-keeps={`${batch.code}/${line.position}`}
    >
      <FormKey />
      <FaultNote fault={mine?.fault} />
      {asked !== '' && <p>Nothing is written yet. Correct it, or press once more if it is so.</p>}
      <Instead refused={mine} />
      <input type="hidden" name="position" value={String(line.position)} />
      {asked !== '' && <input type="hidden" name="asked" value={asked} />}
      {line.stocked && <LotFields line={line} field={field} />}
      {isWeighed ? (
        <WeightField
          {...field('quantity')}
          label="The scale shows"
          hint={`A number alone is in ${unitOf(line, mine?.sent)}. With its unit, such as ${exampleOf(line)}, it counts as typed.`}
          unit={unitOf(line, mine?.sent)}
          required
        />
      ) : (
        <TextField {...field('quantity')} label="Pieces" inputmode="numeric" required maxlength={60} />
      )}
      {isBegun && (
        <Tick
          name="further"
          words="A further portion: it comes on top of what is in"
          isOn={mine?.sent['further'] === 'yes' || (mine === undefined && line.weighed > 0)}
        />
      )}
      <Tick
        name="isAll"
        words="That is all of it, though it is less than was meant"
        isOn={mine?.sent['isAll'] === 'yes'}
      />
      <p>
        <button type="submit" class="main">
          {asked !== '' ? 'It is so: write it down' : isWeighed ? 'It is weighed in' : 'They are counted in'}
        </button>
      </p>
    </form>
  );
}

/** What is left of the line, as it may be typed: in grams where it is shown in kilograms. */
function exampleOf(line: Line): string {
  const left = leftOf(line) > 0 ? leftOf(line) : line.quantity;
  return weightUnit(left) === 'kg' ? `${left / 1000} g` : exactText(left, 'weighed').replace(/ \(.*/, '');
}

/** The lot that is set aside is there already; of several one is chosen. Any other may be typed or scanned. */
function LotFields({ line, field }: { line: Line; field: Field }): JSX.Element {
  const aside = asideOf(line);
  const [only] = aside;
  return (
    <>
      {aside.length > 1 && (
        <ChoiceField
          {...field('aside', only!.lot)}
          label="Lot set aside for it"
          choices={aside.map(({ lot, words }) => [lot, words] as const)}
        />
      )}
      <TextField
        {...field('lot', aside.length === 1 ? only!.lot : undefined)}
        label={aside.length > 1 ? 'Or another lot: scan or type its code' : 'Lot: scan or type its code'}
        required={aside.length < 2}
        list="fitting"
        maxlength={80}
      />
      <datalist id="fitting">
        {[...aside, ...line.fitting].map(({ lot }) => (
          <option value={lot} />
        ))}
      </datalist>
    </>
  );
}

function asideOf(line: Line): { lot: string; words: string }[] {
  if (line.reworkLot !== null) return [{ lot: line.reworkLot, words: line.reworkLot }];
  const lots = line.reserved.filter(({ isLot }) => isLot);
  return [...new Set(lots.map(({ source }) => source))].map((lot) => {
    const mine = lots.filter(({ source }) => source === lot);
    const amount = mine.reduce((sum, { quantity }) => sum + quantity, 0);
    const words = [lot, exactText(amount, line.measure), mine[0]!.place];
    return { lot, words: words.filter((word) => word !== '').join(', ') };
  });
}

/** Another lot that fits, where the one on the scale does not. */
function Instead({ refused }: { refused: Refused | undefined }): JSX.Element {
  if (!refused?.instead) return <></>;
  const { lot, place, expiresOn } = refused.instead;
  return (
    <p class="note">
      <span>Take lot </span>
      <strong safe>{lot}</strong>
      <span
        safe
      >{` instead${place === '' ? '' : `, ${place}`}${expiresOn === null ? '' : `, good until ${expiresOn}`}.`}</span>
    </p>
  );
}
