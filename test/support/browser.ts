import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { chromium } from 'playwright-core';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect } from 'vitest';
import type { Config } from '../../src/config.js';
import { startTestApp, type TestApp } from './app.js';
import { findChromium } from './chromium.js';
import { DEMONSTRATION } from './demonstration.js';

/** A phone at the bench and a desk. */
const PHONE = 390;
const DESK = 1280;
export const WIDTHS = [PHONE, DESK] as const;
const HEIGHT = 900;

/**
 * Nobody sees the suggestions of the address line nor needs a process in reserve, and both cost every window more than the
 * page in it. The first six are what Playwright itself turns off for steadiness: a second list replaces the first.
 */
const FEATURES_OFF = [
  'AvoidUnnecessaryBeforeUnloadCheckSync',
  'DestroyProfileOnBrowserClose',
  'HttpsUpgrades',
  'PaintHolding',
  'OptimizationHints',
  'PreconnectToSearch',
  'WebUIOmniboxPopup',
  'WebUIOmniboxFullPopup',
  'WebUIOmniboxAimPopup',
  'SpareRendererForSitePerProcess',
];

/** Without these a browser on a closed network keeps asking for addresses nobody answers. */
const FLAGS = [
  `--disable-features=${FEATURES_OFF.join(',')}`,
  '--no-sandbox',
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
  // all windows of a context in one process, because to start one takes longer than most pages in it
  '--renderer-process-limit=1',
  '--disable-site-isolation-trials',
  // every page is a program of its own to the compiler: it is gone before it pays to make it fast
  '--js-flags=--no-opt,--no-maglev,--min-semi-space-size=32',
];

const AXE = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export interface BrowserApp {
  app: TestApp;
  /** Where it serves, without a slash at the end. */
  base: string;
  /** Opens a path in a window of its own; what the page logs as an error, or asks of others, fails the test. */
  open(path: string, options?: OpenOptions): Promise<Page>;
}

export interface OpenOptions {
  width?: (typeof WIDTHS)[number];
  dark?: boolean;
  javaScript?: boolean;
}

function launch(): Promise<Browser> {
  const executablePath = findChromium();
  if (executablePath === undefined)
    throw new Error('No Chromium was found and none may be installed here. Say where one is with CHROMIUM=/path.');
  return chromium.launch({ executablePath, args: FLAGS });
}

let launched: Promise<Browser> | undefined;
/** One for all files of a worker; it ends with the worker. */
const browser = () => (launched ??= launch());

const contexts = new Map<boolean, Promise<BrowserContext>>();
/**
 * One with JavaScript and one without for all files of a worker. What one file keeps in it no other sees, because each
 * serves on a port of its own.
 */
function contextOf(javaScriptEnabled: boolean): Promise<BrowserContext> {
  const made = contexts.get(javaScriptEnabled) ?? makeContext(javaScriptEnabled);
  contexts.set(javaScriptEnabled, made);
  return made;
}

async function makeContext(javaScriptEnabled: boolean): Promise<BrowserContext> {
  const context = await (await browser()).newContext({ javaScriptEnabled });
  // a process ends with the last window in it: this one stays
  await context.newPage();
  return context;
}

/**
 * For the top of a test file: the application on a port, with the demonstration in it unless `demo` is false, and a
 * browser.
 */
export function useBrowser(options: { today?: string; demo?: boolean; config?: Partial<Config> } = {}): BrowserApp {
  const shared = {} as BrowserApp;
  const pages: Page[] = [];
  beforeAll(async () => {
    const app = await startTestApp({
      today: options.today ?? '2026-11-25',
      config: options.config,
      filled: options.demo === false ? undefined : DEMONSTRATION,
    });
    await app.app.listen(0, '127.0.0.1');
    const { port } = app.app.getHttpServer().address() as { port: number };
    const base = `http://127.0.0.1:${port}`;
    const open = async (path: string, how: OpenOptions = {}): Promise<Page> => {
      const page = await newWindow(how);
      pages.push(page);
      await goTo(page, base, path);
      return page;
    };
    Object.assign(shared, { app, base, open });
    await browser();
  }, 180_000);
  afterAll(async () => {
    for (const page of pages) await page.close();
    await shared.app?.close();
  });
  return shared;
}

/** Where a page may ask anything. */
const homes = new WeakMap<Page, string>();

async function newWindow({ width = 1280, dark = false, javaScript = true }: OpenOptions): Promise<Page> {
  const page = await (await contextOf(javaScript)).newPage();
  await page.setViewportSize({ width, height: HEIGHT });
  if (dark) await page.emulateMedia({ colorScheme: 'dark' });
  page.on('console', (message) => message.type() === 'error' && fault(page, message.text()));
  page.on('pageerror', (error) => fault(page, error.message));
  page.on('request', (request) => {
    const isAllowed = request.url().startsWith(homes.get(page)!) || /^(data|about):/.test(request.url());
    if (!isAllowed) fault(page, `asks ${request.url()}`);
  });
  return page;
}

async function goTo(page: Page, base: string, path: string): Promise<void> {
  homes.set(page, base);
  const answer = await page.goto(base + path);
  expect(answer?.status(), path).toBeLessThan(400);
}

const faults = new WeakMap<Page, string[]>();
function fault(page: Page, text: string): void {
  faults.set(page, [...(faults.get(page) ?? []), text]);
}

/** What went wrong in a page since it was opened: errors it logged, requests to elsewhere. */
export const faultsOf = (page: Page): string[] => faults.get(page) ?? [];

const TAGS = {
  type: 'tag',
  values: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
};
const EVERY_RULE = { runOnly: TAGS };
/** All that can differ between light and dark. Contrast takes three times as long as all other rules together. */
const COLOUR = ['color-contrast', 'link-in-text-block'];
const RULES_OF_COLOUR = { runOnly: { type: 'rule', values: COLOUR } };
const ALL_BUT_COLOUR = {
  runOnly: TAGS,
  rules: Object.fromEntries(COLOUR.map((rule) => [rule, { enabled: false }])),
};

/**
 * Demands of an open page: nothing wrong by axe's WCAG 2.2 A and AA rules, nothing wider than the window, no errors
 * logged, no requests to elsewhere.
 */
export async function expectSound(page: Page): Promise<void> {
  await expectRules(page, EVERY_RULE);
  await expectInOrder(page);
}

const ASK_ONE_OF_ALIKE = `;axe.configure({ rules: [{ id: 'color-contrast', selector: ':not([data-alike])' }] })`;

/** Of the whole page, or of the elements an expression in the page gives. */
async function expectRules(page: Page, rules: object, elements = 'document'): Promise<void> {
  if (!(await page.evaluate<boolean>(`'axe' in globalThis`))) await page.evaluate(AXE + ASK_ONE_OF_ALIKE);
  if (elements === 'document') await page.evaluate(MARK_ALIKE);
  const violations = await page.evaluate<string[]>(`(async () => {
    const elements = ${elements};
    if (elements.length === 0) return [];
    const found = await axe.run(elements, ${JSON.stringify({ ...rules, resultTypes: ['violations'] })});
    const said = (node) => node.html + ' ' + node.failureSummary;
    return found.violations.map((v) => v.id + ': ' + v.nodes.slice(0, 3).map(said).join(' | '));
  })()`);
  expect(violations).toEqual([]);
  await page.evaluate(`document.querySelectorAll('[data-alike]').forEach((one) => one.removeAttribute('data-alike'))`);
}

async function expectInOrder(page: Page): Promise<void> {
  const wide = await page.evaluate<number>(
    'document.documentElement.scrollWidth - document.documentElement.clientWidth',
  );
  expect(wide, 'wider than the window').toBeLessThanOrEqual(0);
  expect(faultsOf(page)).toEqual([]);
}

/**
 * What the rules of colour follow from in an element, apart from what it stands on. What is large or bold to axe needs less
 * contrast: 24 px, or 18.66 px in bold.
 */
const LOOK = `(element) => {
  const isOutside = element.getBoundingClientRect().right <= 0;
  if (isOutside || !element.checkVisibility({ visibilityProperty: true })) return 'hidden';
  const style = getComputedStyle(element);
  const size = parseFloat(style.fontSize);
  const isLarge = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
  const line = element.localName === 'a' && style.borderBottom;
  return [style.color, style.backgroundColor, style.backgroundImage, style.opacity, style.filter, style.mixBlendMode,
    style.textShadow, style.textDecorationLine, style.clip, style.clipPath, isLarge, line].join();
}`;

/**
 * Marks text that looks as other text does that stands on what looks the same, as in the rows of a list: one of them is asked
 * for its contrast. What is placed apart may lie on anything, so it and what is in it is like nothing else.
 */
const MARK_ALIKE = `(() => {
  const look = ${LOOK};
  const numbers = new Map();
  const numberOf = new Map();
  const asked = new Set();
  for (const one of document.querySelectorAll('body, body *')) {
    const isApart = getComputedStyle(one).position !== 'static';
    const seen = [numberOf.get(one.parentElement), look(one), isApart && numberOf.size].join('|');
    if (!numbers.has(seen)) numbers.set(seen, numbers.size);
    const number = numbers.get(seen);
    numberOf.set(one, number);
    if (![...one.childNodes].some((part) => part.nodeType === Node.TEXT_NODE && part.data.trim() !== '')) continue;
    if (asked.has(number)) one.setAttribute('data-alike', '');
    asked.add(number);
  }
})()`;

/** Notes the looks of every element under a name. */
const noteLooks = (name: string): string => `(() => {
  const look = ${LOOK};
  (globalThis.looks ??= {}).${name} = new Map([...document.querySelectorAll('body, body *')].map((one) => [one, look(one)]));
})()`;

/** The elements seen under one name that look otherwise than under another, or are not seen there; not what is in them. */
const otherwise = (here: string, there: string): string => `(() => {
  const looksOtherwise = (one) => looks.${here}.get(one) !== 'hidden' && looks.${here}.get(one) !== looks.${there}.get(one);
  const found = new Set([...looks.${here}.keys()].filter(looksOtherwise));
  return [...found].filter((one) => !found.has(one.parentElement));
})()`;

let looker: Promise<Page> | undefined;

/**
 * Opens a page at both widths, in light and dark, and demands that each is sound. It looks through one window for all
 * files of a worker, because to open a window takes longer than to look. The rules of colour take longest, so they are
 * asked on the phone in light and at the desk in dark, and in the two others of what looks otherwise there.
 */
export async function expectSoundEverywhere(app: BrowserApp, path: string): Promise<void> {
  const page = await (looker ??= newWindow({}));
  faults.delete(page);
  await page.setViewportSize({ width: PHONE, height: HEIGHT });
  await page.emulateMedia({ colorScheme: 'light' });
  await goTo(page, app.base, path);
  await expectSound(page);
  await page.evaluate(noteLooks('phoneLight'));

  await page.emulateMedia({ colorScheme: 'dark' });
  await page.evaluate(noteLooks('phoneDark'));
  await expectInOrder(page);

  await page.setViewportSize({ width: DESK, height: HEIGHT });
  await expectRules(page, RULES_OF_COLOUR);
  await page.evaluate(noteLooks('deskDark'));
  await expectInOrder(page);

  await page.emulateMedia({ colorScheme: 'light' });
  await page.evaluate(noteLooks('deskLight'));
  await expectRules(page, ALL_BUT_COLOUR);
  await expectRules(page, RULES_OF_COLOUR, otherwise('deskLight', 'phoneLight'));
  await expectInOrder(page);

  if ((await page.evaluate(`${otherwise('phoneDark', 'deskDark')}.length`)) !== 0) {
    await page.setViewportSize({ width: PHONE, height: HEIGHT });
    await page.emulateMedia({ colorScheme: 'dark' });
    await expectRules(page, RULES_OF_COLOUR, otherwise('phoneDark', 'deskDark'));
  }
  // so that nothing of it is still asked when its application is gone
  await page.goto('about:blank');
}
