import { type FieldProps, FieldFrame, type Sent, tiesOf } from './form.js';
import type { WeightUnit } from './good-range.js';

/** The field that goes with an amount and says in which unit a number alone was typed. */
export const unitField = (name: string): string => `${name}-unit`;

/** The unit that stood beside the field when it was filled in. A page of an earlier version said grams. */
export const unitSent = (sent: Sent, name: string): WeightUnit => (sent[unitField(name)] === 'kg' ? 'kg' : 'g');

/** A weight with the unit of a number alone printed beside it; a number pad on phones. */
export function WeightField(
  props: FieldProps & { unit: WeightUnit; value?: string; required?: boolean; maxlength?: number },
): JSX.Element {
  const { name, form, unit, value, required, maxlength } = props;
  const id = `${form}-${name}`;
  const ties = tiesOf(props, id);
  const described = [ties['aria-describedby'], `${id}-unit`].filter((one) => one !== undefined).join(' ');
  return (
    <FieldFrame {...props}>
      <div class="amount">
        <input
          id={id}
          name={name}
          type="text"
          value={value ?? ''}
          required={required}
          inputmode="decimal"
          maxlength={String(maxlength ?? 60)}
          autocomplete="off"
          {...ties}
          aria-describedby={described}
        />
        <span class="unit" id={`${id}-unit`} data-unit={unitField(name)}>
          {unit}
        </span>
      </div>
      <input type="hidden" name={unitField(name)} value={unit} />
    </FieldFrame>
  );
}
