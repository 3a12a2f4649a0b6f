import { beforeAll, describe, expect, it } from 'vitest';
import { SweepService } from '../../src/reminders/sweep.service.js';
import { expectSound, expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';

const app = useBrowser();
beforeAll(async () => void (await app.app.app.get(SweepService).sweep()));

describe('reminders', () => {
  it.each(WIDTHS)('are seen, put off, dealt with and taken back at %i', async (width) => {
    const page = await app.open('/reminders', { width });
    await expectSound(page);
    const first = page.getByRole('listitem').filter({ has: page.getByRole('button', { name: /^Put off until: / }) });
    const before = await first.count();
    expect(before).toBeGreaterThan(2);
    const title = (await first.first().getByRole('heading').textContent())!.trim();
    await page.getByLabel(`Day it comes back: ${title}`).fill('2026-12-03');
    await page.getByRole('button', { name: `Put off until: ${title}` }).click();
    await page.waitForURL('**/reminders');
    expect(await page.getByRole('button', { name: /^Put off until: / }).count()).toBe(before - 1);
    await page.getByRole('link', { name: 'Put off (' }).click();
    const snoozed = page.getByRole('listitem').filter({ hasText: title });
    expect(await snoozed.textContent()).toContain('put off until Thu 3 Dec by workshop');
    await snoozed.getByRole('button', { name: `Take that back: ${title}` }).click();
    await page.waitForURL('**/reminders');
    await page.getByRole('button', { name: `Dealt with: ${title}` }).click();
    await page.waitForURL('**/reminders');
    await page.getByRole('link', { name: 'Dealt with (' }).click();
    expect(await page.getByRole('listitem').filter({ hasText: title }).textContent()).toContain(
      'dealt with by workshop',
    );
  });

  it('says beside the day what is wrong with it, without JavaScript too', async () => {
    const page = await app.open('/reminders', { width: 390, javaScript: false });
    const day = page.getByLabel(/^Day it comes back: /).first();
    await day.fill('2026-11-01');
    await page
      .getByRole('button', { name: /^Put off until: / })
      .first()
      .click();
    const described = await page.locator('[aria-invalid=true]').getAttribute('aria-describedby');
    expect(await page.textContent(`#${described}`)).toContain('choose one after today');
    expect(await page.locator('[aria-invalid=true]').inputValue()).toBe('2026-11-01');
  });

  it('lead to what they are about', async () => {
    const page = await app.open('/reminders');
    const links = await page.locator('ul.cards h2 a').evaluateAll((all) => all.map((one) => one.getAttribute('href')!));
    expect(links.length).toBeGreaterThan(2);
    for (const link of links) {
      const answer = await app.app.request('GET', link, undefined, { accept: 'text/html' });
      expect(answer.status, link).toBe(200);
    }
  });

  it('are sent as the form says, and a wrong address is said beside its field with the rest kept', async () => {
    const page = await app.open('/reminders/settings');
    await page.getByLabel('Email goes to').fill('maker@example.org, nobody');
    await page.getByLabel('Nothing is sent from').fill('21:30');
    await page.getByLabel('until', { exact: true }).fill('06:15');
    await page.getByLabel('Email is sent').selectOption('no');
    await page.getByRole('button', { name: 'Keep this' }).click();
    expect(await page.textContent('#notices-emailTo-fault')).toContain('Write an email address, like');
    expect(await page.getByLabel('Nothing is sent from').inputValue()).toBe('21:30');
    await page.getByLabel('Email goes to').fill('maker@example.org');
    await page.getByRole('button', { name: 'Keep this' }).click();
    await page.waitForURL('**/reminders/settings?said=kept');
    const kept = await app.app.request('GET', '/api/reminders/settings');
    expect(kept.body).toMatchObject({
      emailTo: ['maker@example.org'],
      emailDigest: false,
      quietFrom: '21:30',
      quietTo: '06:15',
    });
    await page.getByRole('button', { name: 'Do not send it: Count' }).click();
    await page.waitForURL('**/reminders/settings?said=kept');
    expect((await app.app.request('GET', '/api/reminders/settings/muted')).body).toEqual({ muted: ['count'] });
    await page.getByRole('button', { name: 'Send it: Count', exact: true }).click();
    await page.waitForURL('**/reminders/settings?said=kept');
  });

  it('give a calendar whose address is shown once', async () => {
    const page = await app.open('/reminders/settings');
    await page.getByRole('button', { name: 'Make a calendar address' }).click();
    const path = (await page.locator('code.secret').textContent())!.trim();
    expect((await app.app.request('GET', path)).status).toBe(200);
    const again = await app.open('/reminders/settings');
    expect(await again.content()).not.toContain(path);
    await again.getByRole('button', { name: 'End the calendar' }).click();
    await again.waitForURL('**/reminders/settings?said=ended');
    expect((await app.app.request('GET', path)).status).toBe(404);
  });

  it('show what could not be sent, and try it again', async () => {
    await app.app.database.query(
      `insert into message (channel, letter, due_at, last_error, tries)
       values ('email', '{"to":["a@example.org"],"subject":"Order PO-7","text":"x"}', now() + interval '1 hour', 'the server said 451', 3)`,
    );
    const page = await app.open('/reminders/settings', { width: 390 });
    expect(await page.textContent('main')).toContain('Order PO-7 (email, tried 3 times): the server said 451');
    await expectSound(page);
    await page.getByRole('button', { name: 'Try again now: Order PO-7' }).click();
    await page.waitForURL('**/reminders/settings?said=again');
    const rows = await app.app.database.query(`select due_at <= now() as due from message where letter is not null`);
    expect(rows).toEqual([{ due: true }]);
  });

  it('are sound everywhere', async () => {
    await expectSoundEverywhere(app, '/reminders');
    await expectSoundEverywhere(app, '/reminders/settings');
  });
});
