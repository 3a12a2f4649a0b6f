import { Get, HttpCode, Post, Query } from '@nestjs/common';
import { z } from 'zod';
import { ChannelsService } from '../../orders/channels.service.js';
import { channelChange, channelCode, channelCreate, type ChannelView as Channel } from '../../orders/orders.schema.js';
import { bodyOf, type Fault, faultOf, FaultNote, goTo, type Sent, TextField, written } from '../../ui/form.js';
import { FormKey } from '../../ui/form-key.js';
import { Page } from '../../ui/layout.js';
import { Filled, PageController } from '../../ui/page-controller.js';
import { count } from '../../ui/words.js';
import { CHANNEL_ASKERS, type ChannelAsker, ChannelForm } from './elsewhere/channel-form.js';
import { weightOf } from './precedence-form.js';
import { SendsField, sendsOf } from './sends-form.js';

const channelPath = z.strictObject({ code: channelCode });
const saidQuery = z.strictObject({ said: z.enum(['kept']).optional() });

/** Where orders come from, what those of each channel count as, and how they are sent. */
@PageController('orders/channels')
export class ChannelsPage {
  constructor(private readonly channels: ChannelsService) {}

  @Get()
  async show(@Query({ schema: saidQuery }) { said }: z.infer<typeof saidQuery>) {
    return <ChannelsView channels={(await this.channels.list()).channels} isKept={said !== undefined} />;
  }

  @Post()
  @HttpCode(200)
  async add(@Filled() { who, sent, reply }: Filled) {
    const then = CHANNEL_ASKERS.find((path) => path === sent['then']) ?? '/orders/new';
    const promiseDays = Number(written(sent, 'promiseDays') ?? Number.NaN);
    try {
      const said = {
        name: sent['name'],
        code: sent['code'],
        promiseDays,
        weight: weightOf(sent),
        sends: sendsOf(sent),
      };
      await this.channels.create(who, bodyOf(channelCreate, said));
      return goTo(reply, then);
    } catch (error) {
      return <FirstChannel then={then} sent={sent} fault={faultOf(error, reply)} />;
    }
  }

  @Post(':code')
  @HttpCode(200)
  async change(@Filled(channelPath) { who, path: { code }, sent, reply }: Filled<typeof channelPath>) {
    try {
      await this.channels.change(who, code, bodyOf(channelChange, { weight: weightOf(sent), sends: sendsOf(sent) }));
      return goTo(reply, '/orders/channels', { said: 'kept' });
    } catch (error) {
      const refused = { code, sent, fault: faultOf(error, reply) };
      return <ChannelsView channels={(await this.channels.list()).channels} refused={refused} />;
    }
  }
}

/** Asks for a channel before anything can come from one. */
export function FirstChannel({ then, sent, fault }: { then: ChannelAsker; sent?: Sent; fault?: Fault }): JSX.Element {
  return (
    <Page title="A channel" at="/orders">
      <h1>Where do orders come from?</h1>
      <p>A shop, a market stall, cafés that resell: each is a channel, with the days it promises its customers.</p>
      <ChannelForm then={then} sent={sent} fault={fault} />
    </Page>
  );
}

interface ChannelsProps {
  channels: readonly Channel[];
  isKept?: boolean;
  refused?: { code: string; sent: Sent; fault: Fault };
}

function ChannelsView({ channels, isKept, refused }: ChannelsProps): JSX.Element {
  return (
    <Page title="Channels" at="/orders">
      <h1>Where orders come from</h1>
      <p>
        <a href="/orders">Back to the orders</a>
      </p>
      {isKept && (
        <p class="note" role="status">
          It is kept. The next plan goes by it.
        </p>
      )}
      {channels.map((channel) => (
        <section>
          <h2 safe>{channel.name}</h2>
          <p class="hint" safe>
            {`${channel.code}, promises ${count(channel.promiseDays, 'day')}`}
          </p>
          <CountsForm channel={channel} refused={refused?.code === channel.code ? refused : undefined} />
        </section>
      ))}
      <h2>Another one</h2>
      <ChannelForm then="/orders/channels" />
    </Page>
  );
}

function CountsForm({ channel, refused }: { channel: Channel } & Pick<ChannelsProps, 'refused'>): JSX.Element {
  return (
    <form method="post" action={`/orders/channels/${channel.code}`}>
      <FormKey />
      <FaultNote fault={refused?.fault} />
      <div class="fields">
        <TextField
          form={`counts-${channel.code}`}
          fault={refused?.fault}
          name="weight"
          label="Its orders count as"
          hint="Where an order does not say it itself"
          value={refused ? refused.sent['weight'] : String(channel.weight)}
          inputmode="numeric"
          maxlength={9}
          required
        />
        <SendsField
          form={`counts-${channel.code}`}
          fault={refused?.fault}
          sent={refused?.sent ?? { sends: channel.sends }}
        />
      </div>
      <p>
        <button type="submit">Keep this</button>
      </p>
    </form>
  );
}
