import type { AddressInfo } from 'node:net';
import { SMTPServer } from 'smtp-server';

export interface MailLog {
  url: string;
  /** How often each message id was taken. */
  taken: Map<string, number>;
  refused: number;
  refusing: boolean;
  stop(): Promise<void>;
}

/** A real SMTP server that only counts which messages it took, so that thousands are no work. */
export async function startMailLog(): Promise<MailLog> {
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ['STARTTLS'],
    onData: (stream, _session, done) => {
      let head = '';
      stream.on('data', (chunk: Buffer) => (head += head.length < 4000 ? chunk.toString('latin1') : ''));
      stream.on('end', () => {
        if (log.refusing) {
          log.refused++;
          return done(Object.assign(new Error('not now'), { responseCode: 451 }));
        }
        const id = /^message-id:\s*<([^>]+)>/im.exec(head)?.[1] ?? 'without an id';
        log.taken.set(id, (log.taken.get(id) ?? 0) + 1);
        return done();
      });
    },
  });
  const log: MailLog = {
    url: '',
    taken: new Map(),
    refused: 0,
    refusing: false,
    stop: () => new Promise((resolve) => server.close(() => resolve())),
  };
  // a worker that is killed breaks its connection off
  server.on('error', () => {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  log.url = `smtp://127.0.0.1:${(server.server.address() as AddressInfo).port}`;
  return log;
}
