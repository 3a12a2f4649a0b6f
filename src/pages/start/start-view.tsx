import type { PropsWithChildren } from '@kitajs/html';
import type { ItemView } from '../../catalog/items.schema.js';
import type { VesselView, WorkshopView } from '../../catalog/workshop.schema.js';
import type { Beginning } from '../../demo/beginning.service.js';
import { stateOf, type Tried } from './tried.js';
import { ChannelForm } from '../orders/elsewhere/channel-form.js';
import { FaultNote, TextField } from '../../ui/form.js';
import { Page } from '../../ui/layout.js';
import { ItemsForm, LotForm, SettingsForm } from './start-forms.js';
import { VesselForm } from './vessel-form.js';
import { count } from '../../ui/words.js';
import { FormKey } from '../../ui/form-key.js';

/** What must be written before the demonstration goes. */
export const REMOVE_WORD = 'remove';

export interface StartProps {
  beginning: Beginning;
  settings: WorkshopView;
  vessels: readonly VesselView[];
  items: readonly ItemView[];
  tried: Tried | undefined;
  said: string | undefined;
  /** Code of the vessel that was looked for. */
  lookedFor?: string;
}

/** Where a workshop begins: step by step, or with the demonstration. */
export function StartView(props: StartProps): JSX.Element {
  const { beginning, tried, said } = props;
  return (
    <Page title="Start" at="/start">
      <h1>{beginning.isDemo ? 'This is the demonstration' : 'Set up your workshop'}</h1>
      {!!said && (
        <p class="note" role="status" safe>
          {said}
        </p>
      )}
      {beginning.isDemo ? <RemoveDemo tried={tried} /> : isEmpty(beginning) ? <LoadDemo tried={tried} /> : ''}
      {beginning.isDemo && <h2>How a workshop is set up</h2>}
      <Steps {...props} />
    </Page>
  );
}

const isEmpty = ({ vessels, materials, made, channels }: Beginning): boolean =>
  vessels + materials + made + channels === 0;

function RemoveDemo({ tried }: { tried: Tried | undefined }): JSX.Element {
  const { sent, fault } = stateOf(tried, 'remove');
  return (
    <>
      <p>
        Quarry Lane Workshop is invented: its materials, suppliers, customers and orders too. Plan its week, set lots
        aside, move a pour, write an order. When you have seen enough, take it away and begin with your own.
      </p>
      <p>
        <a class="button main" href="/week">
          See its week
        </a>
      </p>
      <details open={fault !== undefined}>
        <summary>Take the demonstration away</summary>
        <form method="post" action="/start/remove">
          <FormKey />
          <p>
            All of it goes, also what you added to it, and cannot be brought back. An empty workshop is left. Only the
            demonstration can go so: what a real workshop records stays.
          </p>
          <TextField
            form="remove"
            name="word"
            label={`To be sure, write ${REMOVE_WORD}`}
            value={sent?.['word']}
            fault={fault}
            maxlength={20}
          />
          {!!fault && fault.fields['word'] === undefined && <FaultNote fault={fault} />}
          <p>
            <button type="submit">Take it away</button>
          </p>
        </form>
      </details>
    </>
  );
}

function LoadDemo({ tried }: { tried: Tried | undefined }): JSX.Element {
  return (
    <>
      <FaultNote fault={stateOf(tried, 'demo').fault} />
      <form method="post" action="/start/demo" class="note">
        <FormKey />
        <p>
          Begin below with your own materials. Or look around first: an invented workshop with a full week, which goes
          again with one word.
        </p>
        <p>
          <button type="submit">Load the demonstration</button>
        </p>
      </form>
    </>
  );
}

interface Step {
  id: string;
  title: string;
  isDone: boolean;
  /** What there is already. */
  has: string;
}

function stepsOf(beginning: Beginning): Step[] {
  const { isNamed, vessels, materials, made, formulas, lots, channels, orders, plans } = beginning;
  return [
    { id: 'settings', title: 'How you work', isDone: isNamed || materials > 0, has: '' },
    { id: 'vessels', title: 'What you pour in', isDone: vessels > 0, has: count(vessels, 'vessel') },
    {
      id: 'items',
      title: 'What you use and make',
      isDone: materials > 0 && made > 0,
      has: `${count(materials, 'material')}, ${made} made`,
    },
    { id: 'formulas', title: 'Your first formula', isDone: formulas > 0, has: count(formulas, 'formula') },
    { id: 'lots', title: 'What lies on the shelf', isDone: lots > 0, has: count(lots, 'lot') },
    { id: 'channels', title: 'Where orders come from', isDone: channels > 0, has: count(channels, 'channel') },
    { id: 'orders', title: 'Your first order', isDone: orders > 0, has: count(orders, 'order') },
    { id: 'plan', title: 'Your first week', isDone: plans > 0, has: '' },
  ];
}

/** Every step can be done at any time; the first that is not done yet stands open. */
function Steps(props: StartProps): JSX.Element {
  const { beginning, settings, vessels, items, tried, lookedFor } = props;
  const steps = stepsOf(beginning);
  const next = beginning.isDemo ? undefined : steps.find(({ isDone }) => !isDone)?.id;
  const forms: Record<string, JSX.Element> = {
    settings: <SettingsForm settings={settings} isNamed={beginning.isNamed} state={stateOf(tried, 'settings')} />,
    vessels: <VesselForm vessels={vessels} lookedFor={lookedFor} state={stateOf(tried, 'vessel')} />,
    items: <ItemsForm state={stateOf(tried, 'items')} />,
    formulas: <FirstFormula items={items} />,
    lots: <LotForm items={items} state={stateOf(tried, 'lot')} />,
    channels: <ChannelForm then="/start" />,
    orders: <FirstOrder />,
    plan: <FirstWeek />,
  };
  const failed: Record<string, string> = { vessel: 'vessels', lot: 'lots', settings: 'settings', items: 'items' };
  const open = lookedFor !== undefined ? 'vessels' : tried ? (failed[tried.form] ?? next) : next;
  return (
    <ol class="steps">
      {steps.map((step) => (
        <li id={step.id}>
          <StepFold step={step} isOpen={step.id === open} isNext={step.id === next}>
            {forms[step.id] as 'safe'}
          </StepFold>
        </li>
      ))}
    </ol>
  );
}

function StepFold(props: PropsWithChildren<{ step: Step; isOpen: boolean; isNext: boolean }>): JSX.Element {
  const { step, isOpen, isNext, children } = props;
  return (
    <details open={isOpen}>
      <summary>
        <span safe>{`${step.title} `}</span>
        {step.isDone ? (
          <span class="mark good" safe>
            {step.has === '' ? 'done' : `done: ${step.has}`}
          </span>
        ) : (
          isNext && <span class="mark care">next</span>
        )}
      </summary>
      {children}
    </details>
  );
}

function FirstFormula({ items }: { items: readonly ItemView[] }): JSX.Element {
  const made = items.filter(({ kind }) => kind !== 'material').slice(0, 8);
  return (
    <>
      <p>
        A formula says in percent what is in a bulk, or by the piece what goes into a product: so much of the bulk, a
        bottle, a label. Write the bulk's first.
      </p>
      {made.length === 0 ? (
        <p>
          Add something you make first: in <a href="#items">What you use and make</a>, a row of kind bulk or product.
        </p>
      ) : (
        <ul>
          {made.map(({ code, name }) => (
            <li>
              <a href={`/formulas/${code}/new`} safe>
                {`A formula for ${name}`}
              </a>
            </li>
          ))}
        </ul>
      )}
      <p>
        <a href="/formulas">All formulas</a>
      </p>
    </>
  );
}

function FirstOrder(): JSX.Element {
  return (
    <p class="row">
      <a class="button" href="/orders/new">
        Write one down
      </a>
      <a class="button" href="/orders/import">
        Bring in a shop's file
      </a>
    </p>
  );
}

function FirstWeek(): JSX.Element {
  return (
    <>
      <p>Planning turns orders into pours, and says what is short. It sets nothing aside until you say so.</p>
      <p>
        <a class="button" href="/week">
          Go to the week
        </a>
      </p>
    </>
  );
}
