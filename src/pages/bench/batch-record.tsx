import { longDay, momentText, shortDay } from '../../ui/dates.js';
import type { BatchRecord } from '../../bench/record.schema.js';
import { outputText, percentOf, sampleText, stateOf } from './batch-words.js';
import { StepList } from '../formulas/elsewhere/cautions.js';
import { Page } from '../../ui/layout.js';
import { pageWorkshop } from '../../ui/page-workshop.js';
import { exactText, moneyText } from '../../ui/amounts.js';

type Line = BatchRecord['lines'][number];

const byWhom = ({ by, at }: { by: string; at: string }): string => `${by}, ${momentText(at)}`;

/** Everything that is known of how a batch was made, on one page to print and keep. */
export function RecordPaper({ record }: { record: BatchRecord }): JSX.Element {
  return (
    <Page title={`Record of batch ${record.batch}`} at="/bench">
      <div class="paper record">
        <h1 safe>{`Batch record ${record.batch}`}</h1>
        <p class="row no-print">
          <button type="button" data-prints hidden>
            Print it
          </button>
          <a class="button" href={`/batches/${encodeURIComponent(record.batch)}`}>
            Back to the batch
          </a>
          <script src="/assets/copy.js" type="module"></script>
        </p>
        <Head record={record} />
        <Weighed record={record} />
        <Remarks record={record} />
        <Checks record={record} />
        <Samples record={record} />
        <Closing record={record} />
        {record.steps.length > 0 && (
          <>
            <h2>Method</h2>
            <StepList steps={record.steps} />
          </>
        )}
      </div>
    </Page>
  );
}

function Facts({ rows }: { rows: readonly (readonly [term: string, text: string])[] }): JSX.Element {
  return (
    <dl class="facts">
      {rows.map(([term, text]) => (
        <>
          <dt safe>{term}</dt>
          <dd safe>{text}</dd>
        </>
      ))}
    </dl>
  );
}

/** What happened when a batch came into a state. */
const STATE_WORDS: Record<string, string> = {
  planned: 'Taken back',
  reserved: 'Lots set aside',
  weighed: 'All weighed',
  resting: 'Closed, rests',
  released: 'Released',
  rejected: 'Rejected',
  cancelled: 'Cancelled',
};

function Head({ record }: { record: BatchRecord }): JSX.Element {
  const rows: (readonly [string, string])[] = [
    ['What', `${record.name} (${record.item}), formula version ${record.formulaVersion}`],
    ['State', stateOf({ ...record, isPaused: record.pauses.at(-1)?.resumed === null })[1]],
    ['Day and vessel', `${longDay(record.day)}, ${record.vessel ?? 'no vessel'}; ready ${longDay(record.readyOn)}`],
    ['Meant to come out', outputText(record.output, record.measure)],
    [
      'Made for',
      record.madeFor.map((peg) => `${peg.for}: ${exactText(peg.quantity, record.measure)}`).join('; ') || '-',
    ],
    ['People', record.people.join(', ') || '-'],
    ['Begun', record.begunAt === null ? '-' : momentText(record.begunAt)],
    ...record.states.map(
      ({ to, why, ...who }) => [STATE_WORDS[to] ?? to, `${byWhom(who)}${why === '' ? '' : `: ${why}`}`] as const,
    ),
  ];
  return <Facts rows={rows} />;
}

function Weighed({ record }: { record: BatchRecord }): JSX.Element {
  const shares = new Map(record.effect.lines.map((line) => [line.position, line]));
  return (
    <>
      <h2>What went in</h2>
      <table class="stack">
        <thead>
          <tr>
            <th>What</th>
            <th class="num">Target</th>
            <th class="num">Actual</th>
            <th class="num">Share</th>
            <th>Lots, by whom and when</th>
          </tr>
        </thead>
        <tbody>
          {record.lines.map((line) => (
            <tr>
              <th scope="row">
                <span safe>{`${line.position}. ${line.name}`}</span>
                <div class="hint" safe>
                  {line.item}
                </div>
              </th>
              <td class="num" data-label="Target">
                <span safe>{exactText(line.target, line.measure)}</span>
                {line.meant !== line.target && (
                  <div class="hint" safe>{`first ${exactText(line.meant, line.measure)}`}</div>
                )}
              </td>
              <td class="num" data-label="Actual">
                <span safe>
                  {line.entries.length === 0 && !line.stocked ? 'as planned' : exactText(line.weighed, line.measure)}
                </span>
                {line.isOff && (
                  <div>
                    <span class="mark bad">off the sheet</span>
                  </div>
                )}
              </td>
              <td class="num" data-label="Share">
                {shares.has(line.position) && <span safe>{percentOf(shares.get(line.position)!.sharePpb)}</span>}
              </td>
              <td data-label="Lots">
                <Entries line={line} />
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </>
  );
}

function Entries({ line }: { line: Line }): JSX.Element {
  return (
    <ul class="lines">
      {line.entries.map((entry) => (
        <li>
          <span safe>
            {`${entry.lot ?? 'no lot'}${entry.supplierLot === '' ? '' : ` (supplier's ${entry.supplierLot})`}${entry.expiresOn === null ? '' : `, good until ${entry.expiresOn}`}: ${exactText(entry.quantity, line.measure)}, ${byWhom(entry)}`}
          </span>
          {!!entry.takenBack && (
            <strong safe>{` Taken back by ${byWhom(entry.takenBack)}: ${entry.takenBack.why}`}</strong>
          )}
        </li>
      ))}
    </ul>
  );
}

function Remarks({ record }: { record: BatchRecord }): JSX.Element {
  const { pauses, deviations } = record;
  return (
    <>
      <h2>Pauses and deviations</h2>
      {pauses.length + deviations.length === 0 && <p>None.</p>}
      <ul>
        {pauses.map(({ note, resumed, ...who }) => (
          <li
            safe
          >{`Paused (${byWhom(who)}): ${note}. ${resumed ? `Taken up again (${byWhom(resumed)})` : 'Not taken up again'}`}</li>
        ))}
        {deviations.map(({ note, position, targets, ...who }) => (
          <li safe>
            {`${position === null ? '' : `Line ${position}: `}${note} (${byWhom(who)})${targets
              .map(
                ({ position: at, from, to }) =>
                  `; line ${at} from ${exactText(from, 'weighed')} to ${exactText(to, 'weighed')}`,
              )
              .join('')}`}
          </li>
        ))}
      </ul>
    </>
  );
}

function Checks({ record }: { record: BatchRecord }): JSX.Element {
  const { checks } = record.checks;
  return (
    <>
      <h2>Checks</h2>
      {checks.length === 0 && <p>None is asked for.</p>}
      <ul>
        {checks.map(({ name, unit, isRequired, results }) => (
          <li safe>
            {`${name}${isRequired ? '' : ' (not required)'}: ${
              results.length === 0
                ? 'not done'
                : results
                    .map(
                      (result) =>
                        `${result.choice ?? (result.valueE3 === null ? `${result.weightsMg?.length ?? 0} weighed` : `${result.valueE3 / 1000} ${unit}`.trim())}, ${result.passes ? 'good' : 'not good'} (${result.createdBy}, ${shortDay(result.doneOn)})`,
                    )
                    .join('; ')
            }`}
          </li>
        ))}
      </ul>
    </>
  );
}

/** What is kept of it to compare with: how much, where, by whom, since when and until when. */
function Samples({ record: { samples } }: { record: BatchRecord }): JSX.Element {
  return (
    <>
      <h2>Kept samples</h2>
      {samples.length === 0 && <p>None is kept.</p>}
      <ul>
        {samples.map((sample) => (
          <li safe>{sampleText(sample)}</li>
        ))}
      </ul>
    </>
  );
}

function Closing({ record }: { record: BatchRecord }): JSX.Element {
  const { closing, cost, bestBefore, outputs } = record;
  if (!closing) return <p>Not closed yet.</p>;
  const currency = pageWorkshop()?.currency ?? 'USD';
  const weight = (mg: number) => exactText(mg, 'weighed');
  const rows: (readonly [string, string])[] = [
    ['Closed', `${longDay(closing.finishedOn)}, ${byWhom(closing)}`],
    [
      'Yield',
      `${outputText(closing.made, record.measure)} of ${outputText(record.output, record.measure)} meant; ${weight(closing.putInMg)} put in, ${weight(closing.madeMg)} made, ${weight(closing.leftMg)} left over`,
    ],
    [
      'Loss',
      `${closing.lossMg < 0 ? '-' : ''}${weight(Math.abs(closing.lossMg))}, expected ${weight(closing.expectedLossMg)}${closing.lossReason === '' ? '' : `: ${closing.lossReason}`}`,
    ],
    ...(closing.densityUgPerMl === null ? [] : [['Density', `${closing.densityUgPerMl / 1_000_000} g/ml`] as const]),
    ...outputs.map(
      ({ lot, kind, item, quantity, status, place, usedIn }) =>
        [
          kind === 'made' ? 'Made lot' : 'Left over',
          `${lot}: ${exactText(quantity, kind === 'made' ? record.measure : 'weighed')} of ${item}, ${status}${place === '' ? '' : `, ${place}`}${usedIn.length === 0 ? '' : `; went into ${usedIn.join(', ')}`}`,
        ] as const,
    ),
    ...(cost
      ? [
          [
            'Cost',
            `${moneyText(cost.totalE4, currency)}: materials ${moneyText(cost.materialsE4, currency)}, labour ${moneyText(cost.labourE4, currency)} (${closing.minutes} minutes); ${moneyText(cost.perUnitE4, currency)} ${record.measure === 'weighed' ? 'a kilogram' : 'each'}`,
          ] as const,
        ]
      : [['Lost', moneyText(closing.lostE4, currency)] as const]),
    ...(bestBefore
      ? [
          [
            'Best before',
            `${bestBefore.expiresOn ?? 'no date'} (own shelf life: ${bestBefore.keepsUntil ?? 'none'}; earliest of what went in: ${bestBefore.materialsUntil ?? 'none'})`,
          ] as const,
        ]
      : []),
  ];
  return (
    <>
      <h2>Yield, cost and lots</h2>
      <Facts rows={rows} />
    </>
  );
}
