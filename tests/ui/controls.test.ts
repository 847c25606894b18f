import { rm } from 'node:fs/promises';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { slowMachineMs } from '../support/tinyNight.ts';
import { launchBrowser, openPage, serveFakeNight } from './browser.ts';
import type { ServedNight } from './browser.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: one browser at a time moves the instrument, all see which, anyone may stop, and one person alone is never held up. */

let browser: Browser;
let served: ServedNight;
let first: Page;
let second: Page;

beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser.close();
});
beforeEach(async () => {
  served = await serveFakeNight();
  await served.night.begin();
  [first, second] = [(await openPage(browser, served.server.url)).page, (await openPage(browser, served.server.url)).page];
  await Promise.all([first, second].map((page) => page.getByText('Nobody has the controls.').waitFor()));
});
afterEach(async () => {
  await first.context().close();
  await second.context().close();
  await served.server.close();
  await rm(served.folder, { recursive: true, force: true });
});

async function takeAs(page: Page, name: string): Promise<void> {
  await page.getByLabel('Your name, for the others').fill(name);
  await page.keyboard.press('Enter');
  await page.keyboard.press('k');
  await page.getByText(/^You have the controls until/).waitFor();
}

describe('the controls', () => {
  it('are taken by the first action when nobody has them, and everybody is told', async () => {
    await first.keyboard.press(' ');
    await first.getByText(/^You have the controls until/).waitFor();
    await first.getByText('Paused on K-07').first().waitFor();
    await second.getByText(/^Watching\. a browser on this computer has the controls until/).waitFor();
    expect(served.night.calls).toEqual(['pause']);
  });

  it('of another leave nothing to do but Stop: buttons are off with the reason beside them, and so are keys', async () => {
    await takeAs(first, 'm.o.');
    await second.getByText(/^Watching\. m\.o\. has the controls/).waitFor();
    expect(await second.getByRole('button', { name: 'Pause' }).isDisabled()).toBe(true);
    await second.getByText('m.o. has the controls: ask for them with K.').waitFor();
    await second.keyboard.press(' ');
    await second.getByRole('button', { name: 'Stop', exact: true }).click();
    await second.getByText('The night is done').first().waitFor();
    expect(served.night.calls).toEqual(['stop']);
  });

  it('are asked for with K, kept or given with K, and known again after a reload', async () => {
    await takeAs(first, 'm.o.');
    await second.getByLabel('Your name, for the others').fill('e.k.');
    await second.keyboard.press('Enter');
    await second.keyboard.press('k');
    await first.getByRole('alert').getByText(/^e\.k\. asks for the controls; they pass on at/).waitFor();
    await second.getByText(/^Watching\. You asked m\.o\.;/).waitFor();
    await first.keyboard.press('k');
    await second.getByText(/^Watching\. m\.o\. has the controls/).waitFor();
    await first.reload();
    await first.getByText(/^You have the controls until/).waitFor();
    await second.keyboard.press('k');
    await first.getByRole('button', { name: 'Give them', exact: true }).click();
    await second.getByText(/^You have the controls until/).waitFor();
    await first.getByText(/^Watching\. e\.k\. has the controls/).waitFor();
    await second.keyboard.press('k');
    await first.getByText('Nobody has the controls.').waitFor();
  });
});
