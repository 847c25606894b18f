import { rm } from 'node:fs/promises';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { launchBrowser, openPage, serveFakeNight } from './browser.ts';
import type { ServedNight } from './browser.ts';

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
});
afterEach(async () => {
  await page.context().close();
  await served.server.close();
  await rm(served.folder, { recursive: true, force: true });
});

/** A pixel of the map's canvas at a place of the stage, once it fits; the map shows the whole tray. */
async function untilMap(fits: string, column: number, row: number): Promise<void> {
  await page.waitForFunction(
    ([rule, x, y]) => {
      const canvas = document.querySelector<HTMLCanvasElement>('canvas.map-canvas');
      if (!canvas) return false;
      const [red = 0, green = 0, blue = 0] = canvas.getContext('2d')?.getImageData(Number(x), Number(y), 1, 1).data ?? [];
      return rule === 'picture' ? blue > 120 && blue > red + 30 : red + green + blue > 60 && blue < 60;
    },
    [fits, String(column), String(row)] as const,
  );
}

/** The night's first tiles, all of them on the page: until then the list may still change its order. */
async function beginAndTake(tiles: number): Promise<void> {
  await served.night.begin();
  await served.night.take(tiles);
  await page.getByText(`tile ${tiles + 1} of 240`).first().waitFor();
}

const rows = (): ReturnType<Page['locator']> => page.locator('[role=option]');
const panel = (): ReturnType<Page['locator']> => page.locator('.flake-panel');
const calls = (): Promise<readonly string[]> => Promise.resolve(served.night.calls);

describe('Watch', () => {
  it('says that nothing runs, then shows chips, tiles and flakes as they come', async () => {
    await page.getByText('Nothing is running.').first().waitFor();
    await served.night.begin();
    await page.getByText('Scanning K-07, tile 1 of 240').first().waitFor();
    await page.getByRole('button', { name: 'Chip B-02 whole' }).waitFor();
    // The middle of K-07: bare chip before its tiles are taken, a picture of oxide afterwards.
    await untilMap('chip', 190, 400);
    expect(await rows().count()).toBe(0);
    await served.night.take(80);
    await page.getByText('tile 81 of 240').first().waitFor();
    await untilMap('picture', 190, 300);
    await rows().first().waitFor();
    const before = Number(await rows().first().getAttribute('aria-setsize'));
    expect(before).toBeGreaterThan(3);
    await served.night.take();
    await page.getByText('The night is done').first().waitFor();
    expect(Number(await rows().first().getAttribute('aria-setsize'))).toBeGreaterThan(before);
    expect(await page.title()).toBe('100 % Nightjar');
    expect(errors).toEqual([]);
  });

  it('opens a flake that is clicked in the list: picture, finding, contrast and figures', async () => {
    await beginAndTake(40);
    await rows().first().click();
    await panel().waitFor();
    const id = await rows().first().getAttribute('data-flake');
    expect(await panel().getAttribute('aria-label')).toBe(`Flake ${id ?? ''}`);
    await panel().getByText('contrast × 2.4').waitFor();
    expect(await panel().locator('svg .dot').count()).toBeGreaterThanOrEqual(3);
    expect(await panel().locator('svg .tick').count()).toBeGreaterThanOrEqual(3);
    await panel().getByText('On the chip').waitFor();
    await page.keyboard.press('x');
    await panel().getByText('as stored').waitFor();
    await page.keyboard.press('Escape');
    await panel().waitFor({ state: 'detached' });
    expect(errors).toEqual([]);
  });

  it('opens a flake that is clicked on the map', async () => {
    await beginAndTake(40);
    await rows().first().click();
    const id = await rows().first().getAttribute('data-flake');
    await page.keyboard.press('Escape');
    const best = served.night.feed.snapshot().flakes.find((view) => view.flake.id === id);
    // The map is along the stage's axes: two buttons frame one chip, so its middle and scale are known from the scale bar.
    await page.getByRole('button', { name: 'Chip K-07 whole' }).click();
    await page.locator('.tray .scale-bar').waitFor();
    const spot = await page.evaluate(([xUm, yUm, chipX, chipY]) => {
      const bar = document.querySelector('.tray .scale-bar i');
      const words = document.querySelector('.tray .scale-bar span')?.textContent ?? '';
      const map = document.querySelector('.tray .map')?.getBoundingClientRect();
      if (!bar || !map) return undefined;
      const umPerPx = (parseFloat(words) * (words.includes('mm') ? 1000 : 1)) / bar.getBoundingClientRect().width;
      // Above the chip 56 px are kept free and below it 80 px.
      return { x: map.x + map.width / 2 + (Number(xUm) - Number(chipX)) / umPerPx, y: map.y + 56 + (map.height - 136) / 2 - (Number(yUm) - Number(chipY)) / umPerPx };
    }, [best?.flake.centreUm.xUm ?? 0, best?.flake.centreUm.yUm ?? 0, 9000, 20_000] as const);
    await page.mouse.click(spot?.x ?? 0, spot?.y ?? 0);
    await panel().waitFor();
    expect(await panel().getAttribute('aria-label')).toBe(`Flake ${id ?? ''}`);
  });

  it('goes from flake to flake with N and P, and shows one layer number with its digit', async () => {
    await served.night.begin();
    await served.night.take(80);
    await rows().nth(2).waitFor();
    const ids = await rows().evaluateAll((elements) => elements.map((element) => element.getAttribute('data-flake') ?? ''));
    const chosen = async (): Promise<string | null> => page.locator('[role=option][aria-selected=true]').getAttribute('data-flake');
    for (const [key, expected] of [['n', ids[0]], ['n', ids[1]], ['N', ids[2]], ['p', ids[1]]] as const) {
      await page.keyboard.press(key);
      await page.locator(`[role=option][data-flake="${expected ?? ''}"][aria-selected=true]`).waitFor();
      expect(await chosen()).toBe(expected);
    }
    await page.keyboard.press('3');
    const numbers = await rows().locator('.swatch').allTextContents();
    expect(numbers.length).toBeGreaterThan(0);
    expect(new Set(numbers)).toEqual(new Set(['3']));
    await page.keyboard.press('3');
    await page.locator('[role=option][aria-setsize]').first().waitFor();
    expect((await rows().evaluateAll((elements) => elements.map((element) => element.getAttribute('data-flake') ?? '')))[0]).toBe(ids[0]);
  });

  it('says why it cannot go there while the stage scans; after a pause it goes, and shows the live picture', async () => {
    await beginAndTake(40);
    await rows().first().click();
    const id = (await rows().first().getAttribute('data-flake')) ?? '';
    const go = page.getByRole('button', { name: 'Take me there' });
    await page.getByText('The stage is scanning. Pause first').waitFor();
    expect(await go.isDisabled()).toBe(true);
    await page.keyboard.press('g');
    await page.locator('.map').focus();
    await page.keyboard.press(' ');
    await page.getByText('Paused on K-07').first().waitFor();
    await go.click();
    await panel().getByText(/^live,/).waitFor();
    expect(await calls()).toEqual(['pause', `goToFlake ${id}`]);
    expect(await panel().locator('figure').getAttribute('data-live')).toBe('true');
    await page.getByRole('button', { name: 'Back to the stored picture' }).click();
    await panel().getByText('stored, tile').waitFor();
    await page.waitForFunction(() => document.querySelector('figure')?.dataset.live === 'false');
    expect(errors).toEqual([]);
  });

  it('shows a refusal beside the button that asked', async () => {
    await beginAndTake(40);
    served.night.became('pause', 'paused');
    await rows().first().click();
    served.night.forget((await rows().first().getAttribute('data-flake')) ?? '');
    await page.getByRole('button', { name: 'Take me there' }).click();
    await page.locator('.there [role=alert]').getByText('There is no flake').waitFor();
  });

  it('asks nothing before it stops, and says that Stop is no safety device', async () => {
    await served.night.begin();
    await page.getByText('Not a safety device').waitFor();
    await page.getByRole('button', { name: 'Stop', exact: true }).click();
    await page.getByText('The night is done').first().waitFor();
    expect(await calls()).toEqual(['stop']);
  });

  it('says at once when the connection is lost, keeps what it shows, and catches up without a reload', async () => {
    await beginAndTake(40);
    await rows().first().click();
    const { port } = served.server;
    await served.server.close();
    await page.getByText(/^Connection lost/).waitFor();
    await page.getByText('As of').first().waitFor();
    expect(await page.getByRole('button', { name: 'Pause' }).isDisabled()).toBe(true);
    expect(await page.getByRole('button', { name: 'Stop', exact: true }).isDisabled()).toBe(true);
    expect(await panel().isVisible()).toBe(true);
    await served.night.take(40);
    served = { ...(await serveFakeNight({ night: served.night, folder: served.folder, port })) };
    // It tries by itself as well: on a busy machine it may have been quicker than the click.
    await page.getByRole('button', { name: 'Try now' }).click({ timeout: 2000 }).catch(() => undefined);
    await page.getByText('tile 81 of 240').first().waitFor();
    await page.getByText(/^Connection lost/).waitFor({ state: 'detached' });
    expect(await panel().isVisible()).toBe(true);
  });

  it('moves nothing of its frame as the night goes on', async () => {
    const frame = (): Promise<unknown> => page.evaluate(() => ['.strip', '.tray', 'aside section', '.filter', '.list', 'aside ol'].map((selector) => document.querySelector(selector)?.getBoundingClientRect().toJSON() as unknown));
    const empty = await frame();
    await served.night.begin();
    await page.getByText('Scanning K-07').first().waitFor();
    expect(await frame()).toEqual(empty);
    await served.night.take();
    await page.getByText('The night is done').first().waitFor();
    expect(await frame()).toEqual(empty);
    await served.server.close();
    await page.getByText(/^Connection lost/).waitFor();
    expect(await frame()).toEqual(empty);
  });

  it('has a light theme that lasts, and lists its keys', async () => {
    expect(await page.locator('html').getAttribute('data-theme')).toBe('dark');
    await page.getByRole('button', { name: 'Use light colours' }).click();
    await page.reload();
    expect(await page.locator('html').getAttribute('data-theme')).toBe('light');
    await page.keyboard.press('?');
    await page.getByRole('dialog').getByText('Keys on Watch').waitFor();
    await page.keyboard.press('Escape');
    await page.getByRole('dialog').waitFor({ state: 'detached' });
  });
});

describe('another page in the same browser', () => {
  it('cannot open the websocket', async () => {
    const other = await serveFakeNight();
    await page.goto(other.server.url);
    const outcome = await page.evaluate((port) => new Promise((resolve) => {
      const socket = new WebSocket(`ws://127.0.0.1:${port}/night`);
      socket.onopen = () => resolve('open');
      socket.onerror = () => resolve('refused');
    }), served.server.port);
    expect(outcome).toBe('refused');
    await other.server.close();
    await rm(other.folder, { recursive: true, force: true });
  });
});
