import { beforeAll, describe, expect, it } from 'vitest';
import { startTestApp, type TestApp } from '../support/app.js';
import { weighAll } from '../support/batch-acts.js';
import { benchOf } from '../support/bench.js';
import { DEMONSTRATION } from '../support/demonstration.js';
import { fieldsIn, unescaped, wordsOf } from '../support/form-walk.js';
import { pageText, sendForm } from '../support/page-forms.js';
import { pageRoutes } from '../support/page-routes.js';

const TODAY = '2026-11-25';
let app: TestApp;
beforeAll(async () => {
  app = await startTestApp({ today: TODAY, filled: DEMONSTRATION });
  return () => app.close();
});

describe('a first release', () => {
  it('leads to where the label is said, and from there back to the checks', async () => {
    const bench = benchOf(app);
    const { id } = await bench.done<{ id: number }>('/api/runs', {});
    await bench.done(`/api/runs/${id}/commit`, {});
    const bulk = await bench.batchOf('BASE-WAX');
    await weighAll(bench, bulk);
    await app.database.query('delete from item_label');
    const [row] = await app.database.query<{ code: string }>(
      `select b.code from batch b join item i on i.id = b.item_id where i.code = 'CA-AMBER-220'`,
    );
    const { lot } = await readyToCheck(row!.code);
    const checks = `/batches/${row!.code}/checks`;
    const link = /<a href="([^"]*)">\s*Say what the label states/.exec(await pageText(app, checks))?.[1];
    expect(unescaped(link!)).toBe(`/labels/${lot}?from=${row!.code}#stated`);
    const page = await pageText(app, unescaped(link!).split('#')[0]!);
    expect(page).toMatch(/<details id="stated" open/);
    expect(page).toContain(`name="from" value="${row!.code}"`);
    const sent = await sendForm(app, `/labels/${lot}/stated`, {
      from: row!.code,
      net: '220 g',
      contact: 'none',
    });
    expect(sent.location, wordsOf(sent.text)).toBe(`/labels/${lot}?said=stated&from=${row!.code}`);
    const after = await pageText(app, String(sent.location));
    expect(after).toContain(`<a href="${checks}">Back to the checks of batch ${row!.code}</a>`);
    const back = await pageText(app, checks);
    expect(back).not.toContain('Say what the label states');
    const weighed = await sendForm(app, checks, { kind: 'candle-weights', weights: '231\n232', tare: '10' });
    expect(weighed.location, wordsOf(weighed.text)).toBe(`${checks}?said=candle-weights`);
  });

  /** Makes a candle as far as it is checked. */
  async function readyToCheck(code: string): Promise<{ lot: string }> {
    const bench = benchOf(app);
    for (const item of ['BASE-WAX', 'BLK-CA-AMBER']) {
      const before = await bench.batchOf(item);
      const { output } = await weighAll(bench, before);
      await bench.finish(before, output, { lossReason: 'as it goes' });
      await bench.check(before);
      await bench.release(before, { why: 'needed' });
    }
    const { output } = await weighAll(bench, code);
    return bench.finish(code, output, { lossReason: 'as it goes' });
  }
});

describe('what is found', () => {
  it('is never said before somebody says it', async () => {
    const bench = benchOf(app);
    const code = await bench.batchOf('BLK-SP-FIG');
    const { output } = await weighAll(bench, code);
    await bench.finish(code, output, { lossReason: 'as it goes' });
    const choices = fieldsIn(await pageText(app, `/batches/${code}/checks`)).filter(({ name }) => name === 'choice');
    expect(choices.length).toBeGreaterThan(0);
    expect(choices.filter(({ value }) => value !== '')).toEqual([]);
    const unsaid = await sendForm(app, `/batches/${code}/checks`, { kind: 'spray-clear', choice: '' });
    expect(unsaid.status).toBe(422);
    expect(unsaid.text).toContain('Choose what you found.');
    const harm = fieldsIn(await pageText(app, '/complaints')).find(({ name }) => name === 'harm');
    expect(harm).toMatchObject({ value: '' });
    expect((await sendForm(app, '/complaints', { description: 'odd', harm: '' })).status).toBe(422);
    await app.request('POST', '/api/lots/26307-001/status', { to: 'held', why: 'odd' });
    const decision = fieldsIn(await pageText(app, '/shelf/lots/26307-001')).find(({ name }) => name === 'to');
    expect(decision).toMatchObject({ value: '' });
  });
});

describe('a purchase order that somebody sends', () => {
  it('says how they say they sent it, and that nothing leaves from here', async () => {
    const { body } = await app.request<{ code: string }>('POST', '/api/purchase-orders', {
      supplier: 'BRINDLE',
      lines: [{ pack: 'AMBER-1LB', packs: 2 }],
    });
    const address = `/purchase-orders/${body.code}`;
    const draft = await pageText(app, address);
    expect(wordsOf(draft)).toContain('Nothing leaves from here: send it yourself, by letter, by an email of your own');
    expect(fieldsIn(draft).find(({ name }) => name === 'sentBy')).toMatchObject({ value: '' });
    const unsaid = await sendForm(app, `${address}/send`, { sentBy: '', sentOn: TODAY });
    expect(unsaid.status).toBe(422);
    expect(unsaid.text).toContain('id="send-sentBy-fault"');
    const messages = 'select count(*)::int as n from message';
    const before = await app.database.query(messages);
    const sent = await sendForm(app, `${address}/send`, { sentBy: 'email', sentOn: TODAY });
    expect(sent.status).toBe(303);
    expect(await app.database.query(messages)).toEqual(before);
    const after = wordsOf(await pageText(app, String(sent.location)));
    expect(after).toContain('It is written down that you sent it.');
    expect(after).toContain('sent Wed 25 Nov by an email of your own');
    expect(after).not.toContain('emailed');
  });
});

describe('a fault of a form', () => {
  it('names two fields by their labels above the form, and says at each what would be right', async () => {
    const { text, status } = await sendForm(app, '/suppliers/BRINDLE/packs', {
      item: 'FO-FIG',
      code: 'NEW-1',
      size: '1 kg',
      priceE4: '10',
      leadDays: 'soon',
      leastPacks: 'some',
    });
    expect(status).toBe(422);
    const [note = ''] = /<div class="note bad" role="alert">.*?<\/div>/s.exec(text) ?? [];
    expect(wordsOf(note)).toContain('2 things are not right yet.');
    expect(note).toContain('<strong>Days from ordering until it arrives</strong>');
    expect(text).toMatch(/id="pack-BRINDLE--leadDays-fault">Write a (whole )?number, like 12\.</);
    expect(text).toContain('value="soon"');
  });

  it('says of a name that is taken which one, at its field', async () => {
    const form = { channel: 'webshop', number: 'TAKEN-1', 'lines/0/code': 'SP-FIG-100', 'lines/0/quantity': '1' };
    expect((await sendForm(app, '/orders/new', form)).status).toBe(303);
    const again = await sendForm(app, '/orders/new', form);
    expect(again.status).toBe(409);
    expect(again.text).toContain('id="order-number-fault">“TAKEN-1” is there already. Choose another.<');
    expect(again.text).not.toContain('Key (');
  });

  it('keeps its pointers for programs', async () => {
    const { body } = await app.request<{ errors: object[] }>('POST', '/api/suppliers', { code: 'a', name: '' });
    expect(body.errors).toContainEqual({ pointer: '/name', detail: 'must not be empty', code: 'out-of-range' });
  });
});

describe('a page on which there is nothing', () => {
  it('does not say so in green', async () => {
    const empty = await startTestApp({ today: TODAY });
    try {
      const plain = pageRoutes(empty.app).filter(({ method, path }) => method === 'GET' && !path.includes(':'));
      const seen: string[] = [];
      for (const path of [...plain.map((route) => route.path), '/week/2026-11-30', '/find?q=zz', '/shelf?search=zz']) {
        const { text } = await empty.request('GET', path, undefined, { accept: 'text/html' });
        for (const [, marks, words] of text.matchAll(/<(?:p|div) class="note([^"]*)"[^>]*>(.*?)<\/(?:p|div)>/gs)) {
          if (!/^(None|Nothing|Nobody|No )|not planned yet|is empty|fits\./.test(wordsOf(words!).trim())) continue;
          seen.push(path);
          expect(marks!.trim(), `${path}: ${wordsOf(words!)}`).toMatch(/none|care|bad/);
        }
      }
      expect(seen.length).toBeGreaterThan(6);
    } finally {
      await empty.close();
    }
  });
});
