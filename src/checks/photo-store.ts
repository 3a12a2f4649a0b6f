import { randomUUID } from 'node:crypto';
import { mkdir, readFile, rename, writeFile } from 'node:fs/promises';
import { dirname, join } from 'node:path';
import { Inject, Injectable } from '@nestjs/common';
import { AwsClient } from 'aws4fetch';
import { CONFIG } from '../config.js';
import type { Config } from '../config.js';
import { Problem } from '../platform/problem.js';
import type { PhotoType } from './photo-bytes.js';

const SECONDS_MAX = 20;

/**
 * Where pictures lie, by the SHA-256 of their bytes: in a folder of the home, or in storage that speaks S3. Under the same
 * name lie the same bytes, so writing again does no harm, and what an act that failed left behind hurts nobody.
 */
@Injectable()
export class PhotoStore {
  private readonly client: AwsClient | undefined;

  constructor(@Inject(CONFIG) private readonly config: Config) {
    const { photos } = config;
    if (photos)
      this.client = new AwsClient({
        accessKeyId: photos.keyId,
        secretAccessKey: photos.secret,
        region: photos.region,
        service: 's3',
        retries: 2,
      });
  }

  /** Throws a 503 problem where the storage does not take it. */
  async put(sha256: string, bytes: Buffer, type: PhotoType): Promise<void> {
    if (this.client) return void (await this.send('PUT', sha256, { body: new Uint8Array(bytes), type }));
    const path = this.pathOf(sha256);
    await mkdir(dirname(path), { recursive: true, mode: 0o700 });
    // whole under its name or not at all
    const draft = `${path}.${randomUUID()}`;
    await writeFile(draft, bytes, { mode: 0o600 });
    await rename(draft, path);
  }

  /** Throws a 404 problem for one that is gone, 503 where the storage does not answer. */
  async get(sha256: string): Promise<Buffer> {
    if (this.client) return Buffer.from(await (await this.send('GET', sha256)).arrayBuffer());
    try {
      return await readFile(this.pathOf(sha256));
    } catch (error) {
      if ((error as NodeJS.ErrnoException).code !== 'ENOENT') throw error;
      throw gone();
    }
  }

  private pathOf(sha256: string): string {
    return join(this.config.home, 'photos', sha256.slice(0, 2), sha256);
  }

  private async send(method: 'GET' | 'PUT', sha256: string, content?: { body: Uint8Array<ArrayBuffer>; type: string }) {
    let answer: Response;
    try {
      answer = await this.client!.fetch(`${this.config.photos!.url.replace(/\/$/, '')}/${sha256}`, {
        method,
        body: content?.body,
        headers: content && { 'content-type': content.type },
        signal: AbortSignal.timeout(SECONDS_MAX * 1000),
      });
    } catch {
      throw unavailable('does not answer');
    }
    if (answer.ok) return answer;
    await answer.body?.cancel();
    if (method === 'GET' && answer.status === 404) throw gone();
    throw unavailable(`answers ${answer.status}`);
  }
}

const gone = () =>
  new Problem({ status: 404, code: 'not-found', detail: 'This photo is no longer where it was kept.' });

const unavailable = (what: string) =>
  new Problem({ status: 503, code: 'photos-unavailable', detail: `The storage of photos ${what}. Try again later.` });
