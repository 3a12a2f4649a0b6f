import type { AskedSkill } from '../../catalog/formula-book.service.js';
import type { PersonView } from '../../people/people.schema.js';
import { WEEKDAYS } from '../../ui/dates.js';
import { FaultNote, fieldsOf, TextField, Tick } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { count, namesText } from '../../ui/words.js';
import { Onward, SaidRow } from './said-list.js';
import { stateOf, type Tried } from './tried.js';

export type PeopleForm = 'person' | 'gone';

interface PeopleProps {
  people: readonly PersonView[];
  asked: readonly AskedSkill[];
  /** Whose form is filled; undefined for somebody new. */
  chosen: PersonView | undefined;
  said: string | undefined;
  /** A form that was refused, and why. */
  tried?: Tried<PeopleForm>;
}

/** Who works here, what formulas ask for of them, and the form that says it. */
export function PeopleView(props: PeopleProps): JSX.Element {
  const { said } = props;
  return (
    <Page title="Who works here" at="/start">
      <h1>Who works here</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {said}
        </p>
      )}
      <p>
        A day at the bench has the minutes of all who work on it, and a day you closed has none. If only some may do a
        thing, such as pouring lye, say so of each of them, and of the formulas that ask for it: a plan makes these only
        on days on which they have the minutes. Several of them can share a batch.
      </p>
      <People {...props} />
      <Asked {...props} />
      <PersonForm {...props} />
      <Onward to="/start#settings" words="To your workshop" />
    </Page>
  );
}

function People({ people, tried }: PeopleProps): JSX.Element {
  const here = people.filter(({ isActive }) => isActive);
  return (
    <section>
      <h2>The list</h2>
      {here.length > 0 && here.every(isNeverThere) && (
        <p class="fault">Nobody who works here has minutes on any weekday, so no plan can make anything.</p>
      )}
      {here.length === 0 && (
        <p class="hint">
          {people.length === 0 ? 'Nobody is on it yet.' : 'Nobody on it works here now.'} So the minutes at the bench of
          your workshop count, and anybody may make anything.
        </p>
      )}
      <FaultNote fault={stateOf(tried, 'gone').fault} />
      <ul class="rows">
        {people.map((person) => (
          <SaidRow id={person.id} gone="/start/people/gone">
            <span safe>{personText(person)}</span>
            <a class="button no-print" href={`/start/people?person=${person.id}#form`}>
              <span safe>{`Change ${person.name}`}</span>
            </a>
            <button type="submit" class="no-print">
              <span safe>{`Take ${person.name} off the list`}</span>
            </button>
          </SaidRow>
        ))}
      </ul>
    </section>
  );
}

const isNeverThere = ({ minutes }: PersonView): boolean => minutes.every((each) => each === 0);

/** `Ada: Monday to Wednesday 240 minutes, Thursday 120 minutes; may do lye, hot wax.` */
export function personText(person: PersonView): string {
  const { name, minutes, skills, isActive } = person;
  const days = spansOf(minutes).map(([first, last, each]) => `${daysText(first, last)} ${count(each, 'minute')}`);
  const may = skills.length === 0 ? '' : `; may do ${skills.join(', ')}`;
  return `${name}${isActive ? '' : ', not here now'}: ${isNeverThere(person) ? 'no minutes on any weekday' : days.join(', ')}${may}.`;
}

/** Weekdays one after the other that have as many minutes, and any. */
function spansOf(minutes: readonly number[]): [first: number, last: number, each: number][] {
  const spans: [number, number, number][] = [];
  for (const [at, each] of minutes.entries()) {
    const last = spans.at(-1);
    if (each === 0) continue;
    if (last && last[1] === at - 1 && last[2] === each) last[1] = at;
    else spans.push([at, at, each]);
  }
  return spans;
}

const daysText = (first: number, last: number): string =>
  first === last ? WEEKDAYS[first]! : `${WEEKDAYS[first]!} to ${WEEKDAYS[last]!}`;

function Asked({ people, asked }: PeopleProps): JSX.Element {
  const here = people.filter(({ isActive }) => isActive);
  if (asked.length === 0 || here.length === 0) return <></>;
  return (
    <section>
      <h2>What formulas ask for</h2>
      <ul>
        {asked.map(({ skill, items }) => {
          const may = here.filter(({ skills }) => skills.includes(skill)).map(({ name }) => name);
          const who = may.length === 0 ? 'nobody may do it, so no plan can make it' : `${namesText(may)} may do it`;
          return (
            <li class={may.length === 0 ? 'fault' : undefined} safe>{`${skill}, for ${namesText(items)}: ${who}.`}</li>
          );
        })}
      </ul>
    </section>
  );
}

function PersonForm({ chosen, tried }: PeopleProps): JSX.Element {
  const { sent, fault } = stateOf(tried, 'person');
  const field = fieldsOf('person', { sent, fault });
  const title = chosen ? `Change ${chosen.name}` : 'Add somebody';
  const skillsAt = Object.keys(fault?.fields ?? {}).find((at) => at.startsWith('skills'));
  return (
    <form method="post" action="/start/people" id="form">
      <h2 safe>{title}</h2>
      <FormKey />
      {!!chosen && <input type="hidden" name="id" value={String(chosen.id)} />}
      <FaultNote fault={fault} />
      <div class="fields">
        <TextField {...field('name', chosen?.name ?? '')} label="Name" maxlength={80} required />
        <TextField
          {...field('skills', chosen?.skills.join(', ') ?? '')}
          pointer={skillsAt}
          label="May do what not all may"
          hint="In your own words, with commas between: lye, hot wax"
          maxlength={400}
        />
      </div>
      <fieldset>
        <legend>Minutes on each weekday, 0 or empty where they are not here</legend>
        <div class="fields days">
          {WEEKDAYS.map((day, at) => (
            <TextField
              {...field(`minutes/${at}`, chosen ? String(chosen.minutes[at]) : '')}
              label={day}
              inputmode="numeric"
              maxlength={4}
            />
          ))}
        </div>
      </fieldset>
      <p>
        <Tick
          name="isActive"
          words="Works here now"
          isOn={sent ? sent['isActive'] === 'yes' : (chosen?.isActive ?? true)}
        />
      </p>
      <p class="row">
        <button type="submit" class="main">
          Write it down
        </button>
        {!!chosen && (
          <a class="button" href="/start/people#form">
            Leave it
          </a>
        )}
      </p>
    </form>
  );
}
