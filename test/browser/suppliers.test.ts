import { describe, expect, it } from 'vitest';
import type { PackView, SupplierView } from '../../src/purchasing/purchasing.schema.js';
import { button, fill, fold, picture, said } from '../support/bench-pages.js';
import { expectSoundEverywhere, useBrowser, WIDTHS } from '../support/browser.js';

const app = useBrowser();
const get = async <Body>(url: string) => (await app.app.request<Body>('GET', url)).body;
const supplier = async (code: string) =>
  (await get<{ suppliers: SupplierView[] }>('/api/suppliers')).suppliers.find((one) => one.code === code);
const packs = async (code: string) => (await get<{ packs: PackView[] }>(`/api/packs?supplier=${code}`)).packs;

describe('suppliers', () => {
  it('are sound at both widths, by day and by night', async () => {
    expect.hasAssertions();
    await expectSoundEverywhere(app, '/suppliers');
  });

  it.each(WIDTHS)('get terms and packs without JavaScript, at %i px', async (width) => {
    const page = await app.open('/reorder', { width, javaScript: false });
    await page.getByRole('link', { name: 'Suppliers', exact: true }).click();
    await picture(page, `suppliers-${width}`);
    const code = `OAK-${width}`;
    await page.getByText('Add a supplier').click();
    const form = page.locator('form[action="/suppliers"]');
    await form.getByLabel('A short code for them').fill('oak lane');
    await form.getByLabel('Name').fill('Oak Lane Jars <img src=x>');
    await form.getByLabel('What a parcel costs').fill('about ten');
    await button(page, 'Add the supplier');
    expect(await form.getByLabel('What a parcel costs').getAttribute('aria-invalid')).toBe('true');
    await form.getByLabel('What a parcel costs').fill('9.50');
    await button(page, 'Add the supplier');
    expect(await form.getByLabel('A short code for them').getAttribute('aria-invalid')).toBe('true');
    await form.getByLabel('A short code for them').fill(code);
    await form.getByLabel('Wednesday').check();
    await button(page, 'Add the supplier');
    expect(await said(page)).toContain('The supplier is written down');
    expect(await page.locator('main img').count()).toBe(0);
    expect(await supplier(code)).toMatchObject({ freightE4: 95_000, freightFreeFromE4: null, orderDays: [2] });

    const ours = page.locator('details', { has: fold(page, `${code}/packs`) }).first();
    await ours.locator('summary').first().click();
    await fill(page, `${code}/packs`, {
      'Code of the material': 'JAR-220',
      'Their code of the pack': 'J 220/24',
      'What is in one': '24',
      'Price of one pack': '31.2',
      'Days from ordering until it arrives': '6',
    });
    await fold(page, `${code}/packs`).getByRole('button').click();
    expect(await said(page)).toContain('The pack is written down');
    expect(await packs(code)).toMatchObject([{ item: 'JAR-220', size: 24, priceE4: 312_000, leadDays: 6 }]);
    const pack = page.locator(`form[action$="/${code}/packs/J%20220%2F24"]`);
    await ours.locator('summary').first().click();
    await page.locator('details', { has: pack }).last().locator('summary').click();
    await pack.getByLabel('Price of one pack').fill('33');
    await pack.getByLabel('It is no longer sold').check();
    await pack.getByRole('button', { name: 'Write the pack down' }).click();
    expect(await said(page)).toContain('keeps the price it was ordered at');
    expect(await packs(code)).toMatchObject([{ priceE4: 330_000, withdrawn: true }]);
  });
});
