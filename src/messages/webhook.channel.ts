import { createHmac } from 'node:crypto';
import { request as httpRequest } from 'node:http';
import { request as httpsRequest } from 'node:https';
import type { LookupFunction } from 'node:net';
import { Inject, Injectable } from '@nestjs/common';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { addressFor } from './public-address.js';
import type { Outgoing } from './outgoing.js';

/** From the first byte to the last answer. */
const ALL_MS_MAX = 15_000;
/** Of an answer so much is read; only its status counts. */
const ANSWER_BYTES_MAX = 64 * 1024;

/**
 * Posts notices to an address of the owner's. The signature is over id, time and body, so that a receiver can tell a
 * repeat, an old one sent again, and a forged one.
 */
@Injectable()
export class WebhookChannel {
  constructor(@Inject(CONFIG) private readonly config: Config) {}

  /** Throws where it is not answered with 2xx; another address it is sent on to is not asked. */
  async send(out: Outgoing): Promise<string> {
    const { webhook_url: url, webhook_secret: secret } = out.setting;
    if (url === '') throw new Error('No address for notices is set.');
    const target = new URL(url);
    const { address, family } = await addressFor(target.hostname, this.config.webhookAllow);
    const body = JSON.stringify({ id: out.id, workshop: out.workshop, reminders: out.notices });
    const seconds = Math.floor(Date.now() / 1000);
    const headers = {
      'content-type': 'application/json',
      'content-length': Buffer.byteLength(body),
      'user-agent': 'Lotwright',
      'webhook-id': out.id,
      'webhook-timestamp': String(seconds),
      'webhook-signature': signatureOf(secret, { id: out.id, seconds, body }),
    };
    const lookup: LookupFunction = (_host, options, answer) =>
      options.all ? answer(null, [{ address, family }]) : answer(null, address, family);
    const status = await post(target, { headers, lookup }, body);
    if (status < 200 || status > 299) throw new Error(`${target.host} answered ${status}.`);
    return '';
  }
}

/** `v1,` and the base64 HMAC-SHA256 over `id.seconds.body`, keyed by the bytes of the secret after `whsec_`. */
export function signatureOf(secret: string, said: { id: string; seconds: number; body: string }): string {
  const key = Buffer.from(secret.replace(/^whsec_/, ''), 'base64');
  const text = `${said.id}.${said.seconds}.${said.body}`;
  return `v1,${createHmac('sha256', key).update(text).digest('base64')}`;
}

function post(
  target: URL,
  options: { headers: Record<string, string | number>; lookup: LookupFunction },
  body: string,
): Promise<number> {
  const send = target.protocol === 'https:' ? httpsRequest : httpRequest;
  return new Promise((resolve, reject) => {
    const request = send(
      target,
      // no agent: a connection kept from before could lead elsewhere
      { method: 'POST', agent: false, signal: AbortSignal.timeout(ALL_MS_MAX), ...options },
      (answer) => {
        let bytes = 0;
        answer.on('data', (chunk: Buffer) => {
          bytes += chunk.length;
          if (bytes > ANSWER_BYTES_MAX) answer.destroy();
        });
        answer.once('close', () => resolve(answer.statusCode ?? 0));
        answer.once('error', () => resolve(answer.statusCode ?? 0));
      },
    );
    request.once('error', (error) => reject(error.name === 'AbortError' ? new Error('It took too long.') : error));
    request.end(body);
  });
}
