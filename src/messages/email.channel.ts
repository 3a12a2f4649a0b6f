import { Inject, Injectable } from '@nestjs/common';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import type { Notice, Outgoing } from './outgoing.js';

const CONNECT_MS_MAX = 10_000;
const SILENCE_MS_MAX = 20_000;

/** Email by SMTP. */
@Injectable()
export class EmailChannel {
  constructor(@Inject(CONFIG) private readonly config: Config) {}

  /** Answers what the sender should know. Throws where the server did not take it for anybody. */
  async send(out: Outgoing): Promise<string> {
    const { smtp } = this.config;
    if (!smtp) throw new Error('No server for email is set (LOTWRIGHT_SMTP_URL).');
    const to = out.letter?.to ?? out.setting.email_to;
    if (to.length === 0) throw new Error('Nobody is named whom notices are sent to.');
    const { createTransport } = await import('nodemailer');
    const transport = createTransport({
      url: smtp.url,
      connectionTimeout: CONNECT_MS_MAX,
      greetingTimeout: CONNECT_MS_MAX,
      socketTimeout: SILENCE_MS_MAX,
      // what a message holds never makes this read a file or ask an address
      disableFileAccess: true,
      disableUrlAccess: true,
    });
    try {
      const answer = await transport.sendMail({
        from: smtp.from,
        to,
        messageId: `<${out.id}@lotwright>`,
        ...(out.letter ? letterOf(out.letter) : noticesOf(out)),
      });
      const refused = answer.rejected.map(String);
      return refused.length === 0 ? '' : `not taken for ${refused.join(', ')}`;
    } finally {
      transport.close();
    }
  }
}

function letterOf(letter: NonNullable<Outgoing['letter']>) {
  return {
    subject: letter.subject,
    text: letter.text,
    replyTo: letter.replyTo,
    attachments: (letter.files ?? []).map(({ name, type, content }) => ({
      filename: name,
      contentType: type,
      content,
    })),
  };
}

/** Subject and text of notices; a single one has its title as the subject. */
function noticesOf({ notices, workshop }: Outgoing): {
  subject: string;
  text: string;
  headers: Record<string, string>;
} {
  const [first] = notices;
  const subject = notices.length === 1 ? first!.title : `${notices.length} reminders, the first: ${first!.title}`;
  const text = notices.map(textOf).join('\n\n');
  return {
    subject: `${workshop}: ${subject}`,
    text: `${text}\n\n-- \nLotwright, for ${workshop}`,
    headers: { 'Auto-Submitted': 'auto-generated' },
  };
}

const textOf = ({ title, detail, link }: Notice): string =>
  [title, detail, link.startsWith('/') ? '' : link].filter((part) => part !== '').join('\n  ');
