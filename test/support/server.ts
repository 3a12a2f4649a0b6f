import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Client } from 'pg';
import { startEmbeddedPostgres } from '../../src/platform/embedded-postgres.js';

export interface TestServer {
  /** As a user who may make databases. */
  url: string;
  stop(): Promise<void>;
}

/**
 * A test's data is thrown away, so nothing waits for the disk or is kept to be recovered from, and there are connections
 * for as many files as run at once. A real home never runs like this.
 */
const FAST = {
  fsync: 'off',
  synchronous_commit: 'off',
  full_page_writes: 'off',
  wal_level: 'minimal',
  max_wal_senders: '0',
  max_wal_size: '4GB',
  checkpoint_timeout: '1h',
  max_connections: '300',
  // it would go through the copies of all files, most of which are thrown away first
  autovacuum: 'off',
};

/**
 * What only our own server knows, for it is newer than the oldest supported. A password that no one guesses at need not be
 * slow to try, at each of two thousand connections. Not on Windows: the kernel copies the files of a database, which costs
 * a third.
 */
const FASTER: Record<string, string> = {
  scram_iterations: '1',
  ...(process.platform === 'win32' ? {} : { file_copy_method: 'clone' }),
};

const IMAGE_DEFAULT = 'postgres:15';

/**
 * The server the tests run on: TEST_DATABASE_URL, or a container of TEST_POSTGRES_IMAGE when TEST_CONTAINERS=1 and a
 * container engine answers, or the embedded one.
 */
export async function startTestServer(): Promise<TestServer> {
  const url = process.env['TEST_DATABASE_URL'];
  if (url) return { url, stop: async () => {} };
  if (process.env['TEST_CONTAINERS'] === '1') {
    try {
      return await startContainer();
    } catch (error) {
      console.error(`No test runs in a container: ${(error as Error).message}. The embedded server is used instead.`);
    }
  }
  return startEmbedded();
}

/** One of its own for a test that counts all that a server does. */
export async function startEmbedded(): Promise<TestServer> {
  const home = mkdtempSync(join(tmpdir(), 'lotwright-test-'));
  const server = await startEmbeddedPostgres({ home, settings: { ...FAST, ...FASTER } });
  await keepPasswordAgain(server.ownerUrl);
  return {
    url: server.ownerUrl,
    stop: async () => {
      await server.stop();
      rmSync(home, { recursive: true, force: true });
    },
  };
}

/** As this server's settings have it, which did not hold when the database was made. */
async function keepPasswordAgain(ownerUrl: string): Promise<void> {
  const client = new Client({ connectionString: ownerUrl });
  await client.connect();
  const { username, password } = new URL(ownerUrl);
  await client.query(`alter role ${client.escapeIdentifier(username)} password ${client.escapeLiteral(password)}`);
  await client.end();
}

async function startContainer(): Promise<TestServer> {
  const { GenericContainer, Wait } = await import('testcontainers');
  const password = 'only-for-this-test-run';
  const settings = Object.entries(FAST).flatMap(([name, value]) => ['-c', `${name}=${value}`]);
  const container = await new GenericContainer(process.env['TEST_POSTGRES_IMAGE'] ?? IMAGE_DEFAULT)
    .withEnvironment({ POSTGRES_PASSWORD: password })
    .withCommand(['postgres', ...settings])
    .withExposedPorts(5432)
    // while an image sets the server up, it listens only on its socket
    .withWaitStrategy(Wait.forSuccessfulCommand('pg_isready --host=127.0.0.1 --username=postgres'))
    .start();
  return {
    url: `postgres://postgres:${password}@${container.getHost()}:${container.getMappedPort(5432)}/postgres`,
    stop: async () => void (await container.stop()),
  };
}
