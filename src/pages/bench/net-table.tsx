import type { CheckResult } from '../../checks/checks.schema.js';

type Judgement = NonNullable<CheckResult['judgement']>;

const RULES = { 'nist-133': 'NIST Handbook 133', 'eu-76-211': 'Directive 76/211/EEC' } as const;

const UNIT_WORDS = {
  full: ['good', 'full'],
  short: ['care', 'a little short'],
  beyond: ['bad', 'too short'],
  'far-beyond': ['bad', 'far too short'],
  unjudged: ['care', 'short, not judged'],
} as const;

const VERDICTS = { meets: 'The rule is met.', fails: 'The rule is not met.', 'too-few': 'Not yet judged.' } as const;

/** How filled units stand to what the label states, by the workshop's rule. */
export function NetTable({ judgement }: { judgement: Judgement }): JSX.Element {
  const unit = judgement.basis === 'weight' ? 'g' : 'ml';
  const amount = (thousandths: number): string => `${(thousandths / 1000).toFixed(2)} ${unit}`;
  const facts: [string, string][] = [
    ['Label', amount(judgement.label)],
    ['Average', `${amount(judgement.mean)}, has to reach ${amount(judgement.meanLeast)}`],
    ['One may be short', judgement.allowedShort === null ? 'not known here' : amount(judgement.allowedShort)],
    ['Too short', `${judgement.beyond}, accepted ${judgement.beyondMost}`],
    ['Weighed', `${judgement.weighed} of ${judgement.lotSize}; the plan takes ${judgement.asked}`],
  ];
  return (
    <>
      <p safe>{[`${RULES[judgement.rule]}. ${VERDICTS[judgement.verdict]}`, ...judgement.reasons].join(' ')}</p>
      <dl class="facts">
        {facts.map(([name, value]) => (
          <>
            <dt safe>{name}</dt>
            <dd safe>{value}</dd>
          </>
        ))}
      </dl>
      <details>
        <summary>Each unit</summary>
        <ol>
          {judgement.units.map(({ content, mark }) => {
            const [kind, words] = UNIT_WORDS[mark];
            return (
              <li>
                <span safe>{amount(content)}</span> <span class={`mark ${kind}`}>{words}</span>
              </li>
            );
          })}
        </ol>
      </details>
      <p class="hint" safe>
        {judgement.notice}
      </p>
    </>
  );
}
