import { Get, Param, Post, Query, Redirect } from '@nestjs/common';
import { z } from 'zod';
import { addDays } from '../../kernel/measure/day.js';
import { CommitService } from '../../planning/commit.service.js';
import { PlanningService } from '../../planning/planning.service.js';
import { UndoService } from '../../planning/undo.service.js';
import { type Week, WeekService } from '../../planning/week.service.js';
import { longDay, shortDay } from '../../ui/dates.js';
import { Who } from '../../platform/person.js';
import { idParam, isoDay } from '../../platform/schema.js';
import { Page } from '../../ui/layout.js';
import { Ribbon, Standing } from './ribbon.js';
import { Days } from './days.js';
import { Troubles } from './troubles.js';
import { WeekTakes } from './week-takes.js';
import { FormKey } from '../../ui/form-key.js';
import { PageController } from '../../ui/page-controller.js';

const weekPath = z.strictObject({ start: isoDay });
const runPath = z.strictObject({ start: isoDay, run: idParam });
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
}

function WeekView({ week, said }: { week: Week; said: string | undefined }): JSX.Element {
  return (
    <Page title={`Week from ${shortDay(week.start)}`} at="/week">
      <div class="week">
        <h1 safe>{`Week's plan, ${longDay(week.start)} to ${longDay(week.end)}`}</h1>
        {!!said && (
          <p class="note" role="status" safe>
            {said}
          </p>
        )}
        <WeekSteps week={week} />
        <Troubles week={week} />
        {week.pours.length === 0 ? <NothingToPour week={week} /> : <Days week={week} />}
        <details>
          <summary>Picture of the week</summary>
          <Ribbon week={week} />
          <Standing standing={week.standing} />
        </details>
        <WeekTakes week={week} />
      </div>
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
