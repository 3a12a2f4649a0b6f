import { Get } from '@nestjs/common';
import { addDays } from '../../kernel/measure/day.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { Clock } from '../../platform/clock.js';
import { BenchService } from '../../bench/bench.service.js';
import type { BoardBatch } from '../../bench/bench.schema.js';
import type { KeptSample } from '../../checks/samples.schema.js';
import { SamplesService } from '../../checks/samples.service.js';
import { outputText, sampleText, stateOf } from './batch-words.js';
import { OnHold } from './elsewhere/on-hold.js';
import { Page } from '../../ui/layout.js';
import { PageController } from '../../ui/page-controller.js';

/** So many days ahead may be begun today. */
const AHEAD_DAYS = 7;
const SAMPLES_MAX = 100;

/** What is to be done at the bench today: what to pour, what rests, what is ready to be released. */
@PageController('bench')
export class BenchPage {
  constructor(
    private readonly bench: BenchService,
    private readonly samples: SamplesService,
    private readonly clock: Clock,
  ) {}

  @Get()
  async show() {
    const today = await this.clock.today();
    const batches = await this.bench.board(addDays(today, AHEAD_DAYS));
    const over = await this.samples.list({ dueBy: today, limit: SAMPLES_MAX });
    return <BenchView today={today} batches={batches} over={over.samples} />;
  }
}

interface BenchProps {
  today: string;
  batches: readonly BoardBatch[];
  /** Samples whose time is over. */
  over: readonly KeptSample[];
}

function BenchView({ today, batches, over }: BenchProps): JSX.Element {
  const atBench = batches.filter(({ status }) => status === 'reserved' || status === 'weighed');
  const resting = batches.filter(({ status }) => status === 'resting');
  const groups: [title: string, none: string, rows: BoardBatch[]][] = [
    [
      'To pour',
      'Nothing is set aside to be made today.',
      atBench.filter((batch) => batch.day <= today || batch.done > 0 || batch.isPaused),
    ],
    ['Ready to check and release', 'Nothing waits for its release.', resting.filter((batch) => batch.readyOn <= today)],
    ['Resting', 'Nothing rests.', resting.filter((batch) => batch.readyOn > today)],
    [
      'Coming days',
      'Nothing is set aside for the coming days.',
      atBench.filter((batch) => batch.day > today && batch.done === 0 && !batch.isPaused),
    ],
  ];
  return (
    <Page title="Bench" at="/bench">
      <h1 safe>{`Bench, ${longDay(today)}`}</h1>
      {batches.length === 0 ? (
        <div class="note none">
          <p>
            <strong>Nothing stands at the bench.</strong>
          </p>
          <p>
            Batches come here once the lots of a week are set aside: begin with <a href="/week">the week's plan</a>.
          </p>
        </div>
      ) : (
        groups.map(([title, none, rows]) => (
          <section>
            <h2 safe>{title}</h2>
            {rows.length === 0 ? (
              <p class="hint" safe>
                {none}
              </p>
            ) : (
              <Batches rows={rows} today={today} />
            )}
          </section>
        ))
      )}
      {over.length > 0 && <Over samples={over} />}
      <p>
        <a href="/bench/settings">Settings of the bench</a>: what is checked, by which rules, on which label sheets
      </p>
    </Page>
  );
}

function Over({ samples }: { samples: readonly KeptSample[] }): JSX.Element {
  return (
    <section>
      <h2>Samples that may be thrown away</h2>
      <ul>
        {samples.map((sample) => (
          <li>
            <a href={`/batches/${encodeURIComponent(sample.batch)}/checks`} safe>
              {`Batch ${sample.batch}`}
            </a>
            <span safe>{`: ${sampleText(sample)}`}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}

function Batches({ rows, today }: { rows: readonly BoardBatch[]; today: string }): JSX.Element {
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>What</th>
          <th class="num">How much</th>
          <th>In</th>
          <th>Day</th>
          <th>State</th>
        </tr>
      </thead>
      <tbody>
        {rows.map((batch) => {
          const [mark, words] = stateOf(batch, today);
          return (
            <tr>
              <th scope="row">
                <a href={`/batches/${encodeURIComponent(batch.code)}`} safe>
                  {batch.name}
                </a>
                <div class="hint" safe>
                  {batch.code}
                </div>
              </th>
              <td class="num" data-label="How much" safe>
                {outputText(batch.quantity, batch.measure)}
              </td>
              <td data-label="In" safe>
                {batch.vessel ?? 'the bench'}
              </td>
              <td data-label="Day">
                <span safe>{shortDay(batch.day)}</span>
                {batch.status === 'reserved' && batch.day < today && <span class="mark care">late</span>}
              </td>
              <td data-label="State">
                {batch.onHold.length > 0 ? (
                  <OnHold lots={batch.onHold} />
                ) : (
                  <span class={`mark ${mark}`} safe>
                    {words}
                  </span>
                )}
                {batch.status === 'reserved' && batch.done > 0 && (
                  <div class="hint" safe>{`${batch.done} of ${batch.lines} lines done`}</div>
                )}
                {batch.status === 'reserved' && batch.waitsFor.length > 0 && (
                  <div class="hint" safe>{`waits for ${batch.waitsFor.join(', ')}`}</div>
                )}
              </td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}
