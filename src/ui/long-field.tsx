import { FieldFrame, type FieldProps, tiesOf } from './form.js';

/** Text of several lines. */
export function LongField(
  props: FieldProps & { value?: string; required?: boolean; maxlength?: number; rows?: number },
): JSX.Element {
  const { name, form, value, required, maxlength, rows } = props;
  const id = `${form}-${name}`;
  return (
    <FieldFrame {...props}>
      <textarea
        id={id}
        name={name}
        required={required}
        maxlength={String(maxlength ?? 5000)}
        rows={String(rows ?? 3)}
        {...tiesOf(props, id)}
        safe
      >
        {value ?? ''}
      </textarea>
    </FieldFrame>
  );
}
