import type { WorkshopView } from '../../catalog/workshop.schema.js';
import { type Term, TERMS_TO_SAY, USUAL_TERMS } from '../../kernel/plan/terms.js';
import { ChoiceField, type Fault, type Sent, written } from '../../ui/form.js';
import { TERM_WORDS, termsText } from '../../ui/plan-terms.js';

/** As many as are asked for where no more were said. */
const USUALLY_ASKED = 3;
const CHOICES: [Term | '', string][] = [
  ['', 'as usual'],
  ...TERMS_TO_SAY.map((term): [Term, string] => [term, TERM_WORDS[term]]),
];

const nameOf = (at: number): string => `planTerms/${at}`;

/** What was chosen, the first first. */
export const termsIn = (sent: Sent): string[] =>
  TERMS_TO_SAY.map((_, at) => written(sent, nameOf(at))).filter((term) => term !== undefined);

/** What a plan looks to first where not everything can be had. */
export function PlanTermsFields(props: {
  field: { form: string; fault: Fault | undefined };
  value: (name: string, now: string) => string;
  now: WorkshopView;
}): JSX.Element {
  const { field, value, now } = props;
  const asked = Math.max(USUALLY_ASKED, now.planTerms.length);
  return (
    <fieldset>
      <legend>When a plan cannot do everything</legend>
      <p class="hint" safe>{`As usual: ${termsText(USUAL_TERMS)}.`}</p>
      <p class="hint">
        Even put first, neither pours that stay where they were shown nor days that are alike make an order late.
      </p>
      <div class="fields">
        {Array.from({ length: asked }, (_, at) => (
          <ChoiceField
            {...field}
            name={nameOf(at)}
            pointer={at === 0 ? 'planTerms' : undefined}
            label={at === 0 ? 'What counts most' : 'Then'}
            value={value(nameOf(at), now.planTerms[at] ?? '')}
            choices={CHOICES}
          />
        ))}
      </div>
    </fieldset>
  );
}
