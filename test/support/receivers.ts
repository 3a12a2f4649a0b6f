import { createServer } from 'node:http';
import type { IncomingHttpHeaders } from 'node:http';
import type { AddressInfo } from 'node:net';
import { simpleParser } from 'mailparser';
import type { ParsedMail } from 'mailparser';
import { SMTPServer } from 'smtp-server';

export interface MailSink {
  url: string;
  /** Every message taken so far, repeats too, in the order they came. */
  mails: ParsedMail[];
  /** From now on every message is refused with this answer; null takes them again. */
  refuse(answer: { code: number; text: string } | null): void;
  stop(): Promise<void>;
}

/** A real SMTP server that takes whatever it is sent and reads it. */
export async function startMailSink(): Promise<MailSink> {
  const mails: ParsedMail[] = [];
  let refusal: { code: number; text: string } | null = null;
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ['STARTTLS'],
    onData: (stream, _session, done) => {
      const refused = refusal;
      void simpleParser(stream).then((mail) => {
        if (refused) return done(Object.assign(new Error(refused.text), { responseCode: refused.code }));
        mails.push(mail);
        return done();
      }, done);
    },
  });
  server.on('error', () => {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.server.address() as AddressInfo;
  return {
    url: `smtp://127.0.0.1:${port}`,
    mails,
    refuse: (answer) => void (refusal = answer),
    stop: () => new Promise((resolve) => server.close(() => resolve())),
  };
}

export interface Posted {
  path: string;
  headers: IncomingHttpHeaders;
  body: string;
}

export interface PostSink {
  url: string;
  posts: Posted[];
  /** What everything is answered from now on. */
  answer(status: number, headers?: Record<string, string>): void;
  stop(): Promise<void>;
}

/** A real HTTP endpoint that writes down what is posted to it. */
export async function startPostSink(): Promise<PostSink> {
  const posts: Posted[] = [];
  let reply: { status: number; headers: Record<string, string> } = { status: 204, headers: {} };
  const server = createServer((request, response) => {
    const chunks: Buffer[] = [];
    request.on('data', (chunk: Buffer) => chunks.push(chunk));
    request.on('end', () => {
      posts.push({ path: request.url ?? '', headers: request.headers, body: Buffer.concat(chunks).toString() });
      response.writeHead(reply.status, reply.headers).end();
    });
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  return {
    url: `http://127.0.0.1:${port}/notices`,
    posts,
    answer: (status, headers = {}) => void (reply = { status, headers }),
    stop: () =>
      new Promise((resolve) => {
        server.closeAllConnections();
        server.close(() => resolve());
      }),
  };
}
