import { rm } from 'node:fs/promises';
import type { Browser, Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { launchBrowser, openPage, serveFakeNight } from './browser.ts';
import type { ServedNight } from './browser.ts';

/** Protects: a person can judge layers by keyboard alone, sees their number beside the prediction, and can hide the prediction from sight. */

let browser: Browser;
let served: ServedNight;
let page: Page;
let errors: string[];

beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser.close();
});
beforeEach(async () => {
  served = await serveFakeNight();
  ({ page, errors } = await openPage(browser, served.server.url));
  await page.getByText('The daemon is here').waitFor();
  await served.night.begin();
  await served.night.take(40);
  // All of them on the page: until then the list may still change its order.
  await page.getByText('tile 41 of 240').first().waitFor();
});
afterEach(async () => {
  await page.context().close();
  await served.server.close();
  await rm(served.folder, { recursive: true, force: true });
});

const rows = (): Locator => page.locator('[role=option]');
const judge = (): Locator => page.locator('.judge');
const chosenId = async (): Promise<string> => (await page.locator('[role=option][aria-selected=true]').getAttribute('data-flake')) ?? '';

describe('judging a flake', () => {
  it('takes keys alone: J to the numbers, a source, a digit; then the next one, and back again', async () => {
    await page.keyboard.press('n');
    await judge().waitFor();
    const first = await chosenId();
    await page.keyboard.press('j');
    await page.keyboard.press('r');
    await page.keyboard.press('2');
    await judge().getByText(/^m\.o\.: 2 layers \(Raman\)/).waitFor();
    expect(await judge().getByText(/^How many layers/).isVisible()).toBe(true);
    expect(await page.locator('.flake-panel tr.chosen .given').textContent()).toBe('2');
    await page.locator(`[data-flake="${first}"]`).getByText('judged 2').waitFor();
    await page.getByText('Ladder from 14 terraces and 1 label; fits best').waitFor();
    // The numbers keep the keyboard from flake to flake.
    await page.keyboard.press('n');
    const second = await chosenId();
    await page.keyboard.press('0');
    await judge().getByText(/^m\.o\.: 10 layers \(Raman\)/).waitFor();
    await page.keyboard.press('Backspace');
    await judge().getByText('Nobody has said.').waitFor();
    expect(served.night.calls).toEqual([`giveVerdict ${first} 0 2 raman m.o.`, `giveVerdict ${second} 0 10 raman m.o.`, `withdrawVerdict ${second} 0`]);
    expect(errors).toEqual([]);
  });

  it('is no trap: Tab leaves the numbers, and digits filter again', async () => {
    await page.keyboard.press('n');
    await page.keyboard.press('j');
    await page.keyboard.press('Tab');
    expect(await page.evaluate(() => document.activeElement?.textContent)).toBe('Eye');
    await page.locator('.map').focus();
    await page.keyboard.press('3');
    expect(await page.locator('.filter .row button[aria-pressed=true]').count()).toBe(1);
    expect(served.night.calls).toEqual([]);
  });

  it('counts an eye as blind only for flakes whose prediction the page has not shown', async () => {
    await page.keyboard.press('n');
    const shown = await chosenId();
    await judge().getByText('You saw that: by eye it counts little.').waitFor();
    await page.keyboard.press('v');
    await page.getByRole('heading', { name: 'Prediction hidden' }).waitFor();
    // No number anywhere: list, panel, chart, figures.
    expect(new Set(await rows().locator('.swatch').allTextContents())).toEqual(new Set(['?']));
    expect(await page.locator('.flake-panel .swatch').allTextContents()).not.toContain('1');
    expect(await page.locator('.flake-panel svg .tick').count()).toBe(0);
    await page.keyboard.press('j');
    await page.keyboard.press('1');
    await expect.poll(() => served.night.calls.at(-1)).toBe(`giveVerdict ${shown} 0 1 shownEye m.o.`);
    // More flakes come while predictions are hidden: the last in the list has never been shown.
    await served.night.take(100);
    await page.getByText('tile 141 of 240').first().waitFor();
    await page.locator('[role=listbox]').focus();
    await page.keyboard.press('End');
    const blind = await chosenId();
    expect(blind).not.toBe(shown);
    await page.keyboard.press('j');
    await page.keyboard.press('1');
    await expect.poll(() => served.night.calls.at(-1)).toBe(`giveVerdict ${blind} 0 1 blindEye m.o.`);
    expect(errors).toEqual([]);
  });

  it('says why a number was not taken', async () => {
    await page.keyboard.press('n');
    served.night.forget(await chosenId());
    await page.getByRole('button', { name: 'Give 2 layers' }).click();
    await judge().getByRole('alert').getByText('There is no flake').waitFor();
  });
});

describe('what else is known', () => {
  it('shows what was rejected with its reason, in the list and in the panel, and goes back', async () => {
    served.night.reject();
    await page.getByRole('button', { name: '1 rejected' }).waitFor();
    await page.keyboard.press('d');
    await rows().getByText('soft edge: a dried film or residue').waitFor();
    await page.keyboard.press('n');
    await page.getByRole('heading', { name: 'Rejected: no flake' }).waitFor();
    await page.locator('figcaption').getByText('map picture, tile').waitFor();
    await page.keyboard.press('d');
    await rows().first().getByText('across').waitFor();
    expect(errors).toEqual([]);
  });

  it('counts frames that cannot be read beside those left out', async () => {
    served.night.spoil(3);
    await page.getByText('1 unreadable').waitFor();
  });

  it('says on which flakes a wanted bar fits, and gives the keys back after Enter', async () => {
    await page.getByLabel('Length of the bar').fill('5');
    await page.getByLabel('Width of the bar').fill('3');
    await page.keyboard.press('Enter');
    await rows().getByText('bar fits').first().waitFor();
    await page.getByLabel('Length of the bar').fill('900');
    await rows().getByText('no room').first().waitFor();
    await page.locator('.fit').getByText('0 fit').waitFor();
    await page.getByLabel('Length of the bar').fill('');
    await rows().getByText('no room').first().waitFor({ state: 'detached' });
    await page.keyboard.press('Escape');
    await page.keyboard.press('n');
    await judge().waitFor();
  });

  it('draws the contrast chart of the chosen chip by key, and Escape closes only that', async () => {
    await page.keyboard.press('n');
    await page.keyboard.press('c');
    const dialog = page.getByRole('dialog');
    await dialog.getByRole('heading', { name: 'Contrast of graphene' }).waitFor();
    await dialog.getByText('oxide 287 nm, which fits the flakes best (box: 290)').waitFor();
    await dialog.getByRole('img', { name: /^Contrast of one layer of graphene over wavelength and oxide/ }).waitFor();
    expect(await dialog.locator('.colours span').count()).toBe(11);
    await dialog.getByRole('button', { name: 'B-02' }).click();
    await dialog.getByRole('heading', { name: 'Contrast of MoS₂' }).waitFor();
    await page.keyboard.press('Escape');
    await dialog.waitFor({ state: 'detached' });
    expect(await page.locator('.flake-panel').isVisible()).toBe(true);
    expect(errors).toEqual([]);
  });
});

describe('judging what the daemon offers', () => {
  const giveOffered = async (key: string, layers: string): Promise<string> => {
    await page.keyboard.press('u');
    await judge().getByText('Prediction hidden.').waitFor();
    // The flake judged last stays until the daemon has chosen the next, which nobody has judged.
    await judge().getByText(/^m\.o\.:/).waitFor({ state: 'detached' });
    const id = await chosenId();
    await expect.poll(() => page.evaluate(() => document.activeElement?.getAttribute('aria-label'))).toMatch(/^Give /);
    await page.keyboard.press(key);
    await judge().getByText(new RegExp(`^m\\.o\\.: ${layers} \\(eye`)).waitFor();
    return id;
  };

  it('takes U and a digit each, best first, with nothing predicted anywhere on the page', async () => {
    const first = await giveOffered('2', '2 layers');
    expect(new Set(await rows().locator('.swatch').allTextContents())).toEqual(new Set(['?']));
    expect(await page.locator('.flake-panel svg .tick').count()).toBe(0);
    const second = await giveOffered('1', '1 layer');
    expect(second).not.toBe(first);
    expect(served.night.calls).toEqual(['nextToJudge m.o.', `giveVerdict ${first} 0 2 shownEye m.o.`, 'nextToJudge m.o.', `giveVerdict ${second} 0 1 shownEye m.o.`]);
    // By an eye that was shown them: the list had their numbers before. Chosen by hand, a flake is shown as ever.
    await page.keyboard.press('n');
    await page.getByRole('heading', { name: 'Prediction hidden' }).waitFor({ state: 'detached' });
    expect(errors).toEqual([]);
  });

  it('shows one that was judged before as if it were new: no number of anybody, in panel, list or events', async () => {
    const first = await giveOffered('2', '2 layers');
    await page.locator(`[data-flake="${first}"]`).getByText('judged 2').waitFor();
    await giveOffered('3', '3 layers');
    served.night.again = first;
    await page.keyboard.press('u');
    await page.locator(`[data-flake="${first}"][aria-selected=true]`).waitFor();
    await judge().getByText('You saw that: by eye it counts little.').waitFor();
    expect(await page.locator(`[data-flake="${first}"]`).getByText('judged').count()).toBe(0);
    expect(await page.locator('.judge button[aria-pressed=true]').allTextContents()).toEqual(['Eye']);
    expect(new Set(await page.locator('.flake-panel .given').allTextContents())).toEqual(new Set(['–']));
    expect(await page.locator('.flake-panel').getByText('m.o.').count()).toBe(0);
    await page.keyboard.press('2');
    await judge().getByText(/^m\.o\.: 2 layers/).waitFor();
    expect(errors).toEqual([]);
  });

  it('says when no flake is left, and shows predictions again', async () => {
    served.night.again = null;
    await page.keyboard.press('u');
    await page.getByText('Every flagged flake is judged.').waitFor();
    await page.keyboard.press('n');
    expect(await page.getByRole('heading', { name: 'Prediction hidden' }).count()).toBe(0);
  });
});
