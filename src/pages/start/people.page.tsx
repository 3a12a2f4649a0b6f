import { Get, HttpCode, Post, Query } from '@nestjs/common';
import type { FastifyReply } from 'fastify';
import { z } from 'zod';
import { FormulaBookService } from '../../catalog/formula-book.service.js';
import { personPath, personPut } from '../../people/people.schema.js';
import { PeopleService } from '../../people/people.service.js';
import { idParam } from '../../platform/schema.js';
import { blankIsNone, bodyOf, faultOf, goTo, type Sent, wholeOrText, written } from '../../ui/form.js';
import { Filled, PageController } from '../../ui/page-controller.js';
import { WEEKDAYS } from '../../ui/dates.js';
import { type PeopleForm, PeopleView } from './people-view.js';
import type { Tried } from './tried.js';

const SAID = {
  person: 'It is written down. The next plan goes by it.',
  gone: 'They are off the list. The next plan counts no minutes of theirs.',
};
const peopleQuery = z.strictObject({
  said: z.enum(Object.keys(SAID) as [keyof typeof SAID]).optional(),
  person: blankIsNone(idParam),
});

/** Who works here, on which weekdays for how long, and what only some may do. */
@PageController('start/people')
export class PeoplePage {
  constructor(
    private readonly people: PeopleService,
    private readonly books: FormulaBookService,
  ) {}

  @Get()
  show(@Query({ schema: peopleQuery }) { said, person }: z.infer<typeof peopleQuery>) {
    return this.view(said && SAID[said], person);
  }

  @Post()
  @HttpCode(200)
  say(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('person', sent, reply, () => {
      const body = bodyOf(personPut, personIn(sent));
      const id = written(sent, 'id');
      return id === undefined
        ? this.people.add(who, body)
        : this.people.change(who, bodyOf(personPath, { id }).id, body);
    });
  }

  @Post('gone')
  @HttpCode(200)
  takeOff(@Filled() { who, sent, reply }: Filled) {
    return this.attempt('gone', sent, reply, () => this.people.takeOff(who, bodyOf(personPath, { id: sent['id'] }).id));
  }

  /** Does what a form asks and goes back to the page; a fault shows the form again. */
  private async attempt(form: PeopleForm, sent: Sent, reply: FastifyReply, act: () => Promise<unknown>) {
    try {
      await act();
    } catch (error) {
      const fault = faultOf(error, reply);
      return this.view(undefined, Number(sent['id']), { form, sent, fault });
    }
    return goTo(reply, '/start/people', { said: form });
  }

  private async view(said: string | undefined, chosen: number | undefined, tried?: Tried<PeopleForm>) {
    const { people } = await this.people.list();
    const asked = await this.books.askedSkills();
    return <PeopleView {...{ people, asked, said, tried }} chosen={people.find(({ id }) => id === chosen)} />;
  }
}

/** What the form says, as the API takes it: a weekday left empty is one they are not here. */
function personIn(sent: Sent): unknown {
  return {
    name: written(sent, 'name') ?? '',
    minutes: WEEKDAYS.map((_, at) => wholeOrText(written(sent, `minutes/${at}`)) ?? 0),
    skills: (sent['skills'] ?? '')
      .split(',')
      .map((skill) => skill.trim())
      .filter((skill) => skill !== ''),
    isActive: sent['isActive'] === 'yes',
  };
}
