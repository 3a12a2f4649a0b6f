import { OnHold } from '../bench/elsewhere/on-hold.js';
import { Body, Get, HttpCode, Param, Post, Query, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { addDays } from '../../kernel/measure/day.js';
import { ChangeService } from '../../planning/change.service.js';
import { CommitService } from '../../planning/commit.service.js';
import type { ChangedBatch } from '../../planning/planning.schema.js';
import { PlanningService } from '../../planning/planning.service.js';
import { UndoService } from '../../planning/undo.service.js';
import { type Week, type WeekPour, WeekService } from '../../planning/week.service.js';
import { count, decantText, fewText, restWord, waitsText, washText, whoMayText } from '../../ui/words.js';
import { whoMay } from '../../people/who-may.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { Who } from '../../platform/person.js';
import { idParam, isoDay, readableCode } from '../../platform/schema.js';
import { Page } from '../../ui/layout.js';
import { Ribbon, Standing } from './ribbon.js';
import { amountText } from '../../ui/amounts.js';
import { Troubles } from './troubles.js';
import { WeekTakes } from './week-takes.js';
import { UrgentMark } from '../orders/elsewhere/urgent-mark.js';
import { FormKey } from '../../ui/form-key.js';
import { PageController } from '../../ui/page-controller.js';

const weekPath = z.strictObject({ start: isoDay });
const runPath = z.strictObject({ start: isoDay, run: idParam });
const batchPath = z.strictObject({ start: isoDay, run: idParam, code: readableCode });
const moveForm = z.strictObject({ day: isoDay });
const saidQuery = z.strictObject({ said: z.enum(['planned', 'set-aside', 'taken-back', 'moved']).optional() });

const SAID = {
  planned: 'The week is planned. Nothing is set aside yet.',
  'set-aside': 'The lots are set aside. The week can begin.',
  'taken-back': 'The plan is taken back, and everything set aside for it is free again.',
  moved: 'The batch is moved.',
};

/** The week: what is poured, filled and packed on which day, in which vessel, for whom. */
@PageController('week')
export class WeekPage {
  constructor(
    private readonly weeks: WeekService,
    private readonly planning: PlanningService,
    private readonly commits: CommitService,
    private readonly undos: UndoService,
    private readonly changes: ChangeService,
  ) {}

  @Get()
  @Redirect()
  async coming(): Promise<{ url: string; statusCode: number }> {
    return { url: `/week/${await this.weeks.coming()}`, statusCode: 302 };
  }

  @Get(':start')
  async show(
    @Param({ schema: weekPath }) { start }: z.infer<typeof weekPath>,
    @Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>,
  ) {
    return <WeekView week={await this.weeks.week(start)} said={said ? SAID[said] : undefined} />;
  }

  @Post(':start/plan')
  @Redirect()
  async plan(@Who() who: string, @Param({ schema: weekPath }) { start }: z.infer<typeof weekPath>) {
    await this.planning.makeDraft(who, start);
    return { url: `/week/${start}?said=planned`, statusCode: 303 };
  }

  @Post(':start/runs/:run/set-aside')
  @Redirect()
  async setAside(@Who() who: string, @Param({ schema: runPath }) { start, run }: z.infer<typeof runPath>) {
    await this.commits.commit(who, run, true);
    return { url: `/week/${start}?said=set-aside`, statusCode: 303 };
  }

  @Post(':start/runs/:run/take-back')
  @Redirect()
  async takeBack(@Who() who: string, @Param({ schema: runPath }) { start, run }: z.infer<typeof runPath>) {
    await this.undos.undo(who, run, 'taken back on the week page');
    return { url: `/week/${start}?said=taken-back`, statusCode: 303 };
  }

  /** What moving a batch would do, before it is done. */
  @Post(':start/runs/:run/batches/:code/move-preview')
  @HttpCode(200)
  async preview(
    @Who() who: string,
    @Param({ schema: batchPath }) { start, run, code }: z.infer<typeof batchPath>,
    @Body({ schema: moveForm }) { day }: z.infer<typeof moveForm>,
  ) {
    const change = await this.changes.change(who, run, code, { day, preview: true, why: '' });
    return <MovePreview start={start} run={run} change={change} />;
  }

  @Post(':start/runs/:run/batches/:code/move')
  @Redirect()
  async move(
    @Who() who: string,
    @Param({ schema: batchPath }) { start, run, code }: z.infer<typeof batchPath>,
    @Body({ schema: moveForm }) { day }: z.infer<typeof moveForm>,
  ) {
    await this.changes.change(who, run, code, { day, preview: false, why: 'moved on the week page' });
    return { url: `/week/${start}?said=moved`, statusCode: 303 };
  }
}

function WeekView({ week, said }: { week: Week; said: string | undefined }): JSX.Element {
  return (
    <Page title={`Week from ${shortDay(week.start)}`} at="/week">
      <h1 safe>{`Week's plan, ${longDay(week.start)} to ${longDay(week.end)}`}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {said}
        </p>
      )}
      <WeekSteps week={week} />
      <Ribbon week={week} />
      <Standing standing={week.standing} />
      {week.pours.length === 0 ? (
        <NothingToPour week={week} />
      ) : (
        week.days.map((day) => <Day week={week} day={day.day} />)
      )}
      <Troubles week={week} />
      <WeekTakes week={week} />
      <script src="/assets/week.js" type="module"></script>
    </Page>
  );
}

function WeekSteps({ week }: { week: Week }): JSX.Element {
  const draft = week.draft;
  return (
    <nav class="row no-print" aria-label="This week">
      <a class="button" href={`/week/${addDays(week.start, -7)}`}>
        Week before
      </a>
      <a class="button" href={`/week/${addDays(week.start, 7)}`}>
        Week after
      </a>
      <form method="post" action={`/week/${week.start}/plan`} data-busy="Planning from every open order and lot">
        <FormKey />
        <button type="submit" class={draft || week.committed.length > 0 ? '' : 'main'}>
          {week.pours.length > 0 ? 'Plan again' : 'Plan this week'}
        </button>
      </form>
      {!!draft && week.pours.some((pour) => pour.status === 'proposed') && (
        <form
          method="post"
          action={`/week/${week.start}/runs/${draft.id}/set-aside`}
          data-busy="Setting every lot of the plan aside"
        >
          <FormKey />
          <button type="submit" class="main">
            Set the lots aside
          </button>
        </form>
      )}
      {week.plans > 1 && (
        <a class="button" href={`/week/${week.start}/compare`}>
          What changed
        </a>
      )}
      {week.committed.map((run) => (
        <form method="post" action={`/week/${week.start}/runs/${run.id}/take-back`}>
          <FormKey />
          <button type="submit">Take plan {run.id} back</button>
        </form>
      ))}
    </nav>
  );
}

function NothingToPour({ week }: { week: Week }): JSX.Element {
  return (
    <div class="note none">
      <p>
        <strong>{week.draft ? 'Nothing to pour.' : 'This week is not planned yet.'}</strong>
      </p>
      <p>
        {week.draft
          ? 'Every order is covered from the shelf or from what is already resting, and stock stands at its targets.'
          : 'Planning turns open orders and stock targets into pours. It sets nothing aside until you say so.'}
      </p>
    </div>
  );
}

function Day({ week, day }: { week: Week; day: string }): JSX.Element {
  const pours = week.pours.filter((pour) => pour.day === day);
  const load = week.days.find((row) => row.day === day)!;
  const washing = pours.reduce((sum, { wash }) => sum + (wash?.minutes ?? 0), 0);
  if (pours.length === 0 && load.minutesOpen === 0) return <></>;
  return (
    <section data-day={day}>
      <h2>
        <span safe>{`${shortDay(day)}: `}</span>
        <a href={`/why/bench/${day}`} safe>{`${load.minutesUsed} of ${load.minutesOpen} bench minutes`}</a>
        {washing > 0 && <span>, {washing} of them for washing</span>}
      </h2>
      {load.few
        .filter((few) => few.minutesUsed > few.minutesOpen && isAhead(few, pours))
        .map((few) => (
          <p class="fault" safe>
            {fewText(few)}
          </p>
        ))}
      {pours.length === 0 ? <p class="hint">Nothing on this day.</p> : <Pours week={week} pours={pours} />}
    </section>
  );
}

function Pours({ week, pours }: { week: Week; pours: readonly WeekPour[] }): JSX.Element {
  return (
    <table class="stack">
      <thead>
        <tr>
          <th>What</th>
          <th class="num">How much</th>
          <th>In</th>
          <th>Ready</th>
          <th>Made for</th>
          <th>State</th>
        </tr>
      </thead>
      <tbody>
        {pours.map((pour) => (
          <PourRow week={week} pour={pour} />
        ))}
      </tbody>
    </table>
  );
}

function PourRow({ week, pour }: { week: Week; pour: WeekPour }): JSX.Element {
  const rests = pour.readyOn > pour.day;
  const who = isToMake(pour) ? whoMay(week.people, pour.skill) : null;
  return (
    <tr data-movable={isMovable(pour) ? pour.code : undefined}>
      <th scope="row">
        <a href={whyAddress(pour)} safe>
          {pour.name}
        </a>
        <div class="hint" safe>
          {who === null ? pour.code : `${pour.code}: ${whoMayText(who)}`}
        </div>
      </th>
      <td class="num" data-label="How much">
        <a href={whyAddress(pour)} safe>
          {amountText(pour.output, pour.measure)}
        </a>
        {pour.least !== null && (
          <div class="hint" safe>
            {`less than the ${amountText(pour.least, pour.measure)} a batch should be`}
          </div>
        )}
      </td>
      <td data-label="In">
        <span safe>{pour.vessel ?? 'the bench'}</span>
        {!!pour.wash && (
          <div class="hint" safe>
            {washText(pour.wash, pour.vessel!)}
          </div>
        )}
        {/* a plan of an earlier version does not say */}
        {!!pour.decant && (
          <div class="hint" safe>
            {decantText(pour.decant, pour.vessel!)}
          </div>
        )}
      </td>
      <td data-label="Ready">
        {rests ? `${restWord(pour.family, pour.vessel !== null)} until ${shortDay(pour.readyOn)}` : 'the same day'}
      </td>
      <td data-label="Made for">
        <span safe>{madeForText(pour)}</span> {pour.isUrgent && <UrgentMark />}
      </td>
      <td data-label="State">
        <StateMark pour={pour} who={who} />
        {isMovable(pour) && <MoveForm week={week} pour={pour} />}
      </td>
    </tr>
  );
}

/** Why a plan has it; a set packed without one is only what it is. */
const whyAddress = ({ runId, code }: WeekPour): string =>
  runId === null ? `/batches/${encodeURIComponent(code)}` : `/why/batch/${runId}/${encodeURIComponent(code)}`;

/** Until it is weighed, a batch can go to another day. */
const isMovable = (pour: WeekPour): boolean => pour.status === 'planned' || pour.status === 'reserved';

/** Nothing of it is done, so it still asks for somebody. */
const isToMake = (pour: WeekPour): boolean => pour.status === 'proposed' || isMovable(pour);

/** Something of that day that they alone may make is still to be made. */
const isAhead = ({ skills }: Week['days'][number]['few'][number], pours: readonly WeekPour[]): boolean =>
  pours.some((pour) => isToMake(pour) && pour.skill !== null && skills.includes(pour.skill));

function StateMark({ pour, who }: { pour: WeekPour; who: string[] | null }): JSX.Element {
  if (pour.isShort) return <span class="mark bad">short</span>;
  if (pour.onHold.length > 0) return <OnHold lots={pour.onHold} />;
  if (pour.status === 'proposed') {
    const why = pour.heldUpBy ? `, ${waitsText(pour.heldUpBy, who)}` : '';
    return (
      <span class="mark care" safe>
        {`proposed${why}`}
      </span>
    );
  }
  return (
    <span class="mark good" safe>
      {pour.status === 'reserved' ? 'lots set aside' : pour.status}
    </span>
  );
}

function MoveForm({ week, pour }: { week: Week; pour: WeekPour }): JSX.Element {
  const action = `/week/${week.start}/runs/${pour.runId}/batches/${pour.code}/move-preview`;
  return (
    <form class="row no-print" method="post" action={action}>
      <label>
        Move to
        <select name="day">
          {week.days.map((day) => (
            <option value={day.day} selected={day.day === pour.day} safe>
              {shortDay(day.day)}
            </option>
          ))}
        </select>
      </label>
      <button type="submit">See what that does</button>
    </form>
  );
}

function madeForText(pour: WeekPour): string {
  const lines = pour.madeFor.filter((peg) => peg.for === 'line').length;
  const batches = pour.madeFor.filter((peg) => peg.for === 'batch').map((peg) => peg.label);
  const stock = pour.madeFor.find((peg) => peg.for === 'stock');
  return [
    lines > 0 ? count(lines, 'order line') : '',
    batches.length > 3 ? count(batches.length, 'batch', 'batches') : batches.join(', '),
    stock ? `${amountText(stock.quantity, pour.measure)} for stock` : '',
  ]
    .filter((part) => part !== '')
    .join(', ');
}

function MovePreview({ start, run, change }: { start: string; run: number; change: ChangedBatch }): JSX.Element {
  return (
    <Page title={`Move ${change.code}`} at="/week">
      <h1 safe>{`Move ${change.code} to ${longDay(change.day)}?`}</h1>
      <ul>
        <li safe>{`Ready on ${longDay(change.readyOn)}`}</li>
        <li class={change.minutesUsed > change.minutesOpen ? 'fault' : undefined} safe>
          {`${change.minutesUsed} of ${change.minutesOpen} bench minutes used that day`}
        </li>
        {change.few.map((few) => (
          <li class={few.minutesUsed > few.minutesOpen ? 'fault' : undefined} safe>
            {fewText(few)}
          </li>
        ))}
        {!!change.wash && <li safe>{washText(change.wash, change.vessel!)}</li>}
        {change.late.map((row) => (
          <li class="fault" safe>{`${row.order} would be late: ship by ${shortDay(row.shipBy)}`}</li>
        ))}
        {change.freed.map((row) => (
          <li safe>{`Gives back lot ${row.lot} of ${row.item}`}</li>
        ))}
        {change.taken.map((row) => (
          <li safe>{`Sets aside lot ${row.lot} of ${row.item}`}</li>
        ))}
        {change.late.length === 0 && <li>No order becomes late.</li>}
      </ul>
      <form class="row" method="post" action={`/week/${start}/runs/${run}/batches/${change.code}/move`}>
        <FormKey />
        <input type="hidden" name="day" value={change.day} />
        <button type="submit" class="main">
          Move it
        </button>
        <a class="button" href={`/week/${start}`}>
          Leave it
        </a>
      </form>
    </Page>
  );
}
