import { readFileSync } from 'node:fs';
import { beforeAll, describe, expect, it } from 'vitest';
import { loadDemoIfEmpty, planText, runOf } from '../../src/terminal.js';
import { readConfig } from '../../src/config.js';
import { PlanningService } from '../../src/planning/planning.service.js';
import { useTestApp } from '../support/app.js';

const README = readFileSync('README.md', 'utf8');

/** The day of the README's worked example. */
const TODAY = '2026-11-25';

const blocks = (language: string): string[] =>
  [...README.matchAll(new RegExp(`^\`\`\`${language}\\n([\\s\\S]*?)^\`\`\``, 'gm'))].map((match) => match[1]!);

interface Curl {
  method: string;
  url: string;
  headers: Record<string, string>;
  body?: string;
}

/** Reads the curl commands of a block: words, and text in single quotes that may run over lines. */
function curls(block: string): Curl[] {
  return [...block.matchAll(/^curl(?:[ \t]+(?:'[^']*'|[^\s']+))+/gm)].map(([command]) => {
    const words = [...command.matchAll(/'([^']*)'|([^\s']+)/g)].map(([, quoted, word]) => quoted ?? word!);
    const curl: Curl = { method: '', url: '', headers: {} };
    for (let i = 1; i < words.length; i++) {
      const word = words[i]!;
      if (word === '-s') continue;
      if (word === '-X') curl.method = words[++i]!;
      else if (word === '-H') {
        const [name, value] = words[++i]!.split(': ');
        curl.headers[name!.toLowerCase()] = value!;
      } else if (word === '-d' || word === '--data-binary') curl.body = words[++i]!;
      else curl.url = word.replace('localhost:4300', '');
    }
    curl.method ||= curl.body === undefined ? 'GET' : 'POST';
    return curl;
  });
}

describe('the README', () => {
  const app = useTestApp({ today: TODAY });
  let printed = '';

  beforeAll(async () => {
    await loadDemoIfEmpty(app.app, { ...readConfig({}), demo: true });
    printed = await planText(app.app, runOf(await app.app.get(PlanningService).makeDraft('test', undefined)));
  });

  it('prints the plan that the program prints', () => {
    const actual = printed.split('\n');
    let at = 0;
    for (const line of blocks('text')[0]!.trimEnd().split('\n')) {
      if (line === '...' || line === '') continue;
      const found = actual.indexOf(line, at);
      expect(found, `not printed: ${line}`).toBeGreaterThanOrEqual(0);
      at = found + 1;
    }
    expect(at).toBe(actual.length);
  });

  it('shows commands that work as they are printed', async () => {
    const commands = blocks('sh').flatMap(curls);
    expect(commands.length).toBeGreaterThan(20);
    for (const { method, url, body, headers } of commands) {
      const answer = await app.request(method, url, body, headers);
      expect(answer.status, `${method} ${url}: ${answer.text.slice(0, 500)}`).toBeLessThan(300);
    }
  });

  it('names every setting the program reads', () => {
    for (const name of [
      'PORT',
      'HOST',
      'DATABASE_URL',
      'LOTWRIGHT_HOME',
      'LOTWRIGHT_DEMO',
      'LOTWRIGHT_TODAY',
      'LOG_LEVEL',
    ])
      expect(README).toContain(`\`${name}\``);
  });
});
