import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Browser, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { freshState, progressed, READINESS_HOLDS_MS, viewAt } from '../../daemon/preflight/preflightState.ts';
import type { PreflightView } from '../../daemon/server/messages.ts';
import { slowMachineMs } from '../support/tinyNight.ts';
import { launchBrowser, openPage, serveFakeNight } from './browser.ts';
import type { ServedNight } from './browser.ts';
import { FakeNight } from './fakeNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: the checks fill in on every page, also a late one; there is one next action, and only who may act has it. */

const names = ['clock and end', 'disk space'];
const now = (name: string) => ({ now: { name, needs: 'nothing' } as const });
const fine = { check: 'clock', verdict: 'ok', seen: 'set by the network' } as const;
const full = { check: 'disk space', verdict: 'toMend', seen: '1 GB free', mend: 'make room' } as const;
const view = (state: Parameters<typeof viewAt>[0], ageMs = 0): PreflightView => viewAt(state, ageMs, { title: 'Three chips', doneAtMs: 0 });
const underWay = progressed(freshState(names), { findings: [fine], ...now('disk space'), done: 1, of: 2 }, 0);
const ready = progressed(underWay, { findings: [fine, { ...full, verdict: 'ok' }], done: 2, of: 2 }, 0);
const notReady = progressed(underWay, { findings: [fine, full], done: 2, of: 2 }, 0);

let browser: Browser;
let served: ServedNight;
let shown: PreflightView;
let calls: string[];
let tell: (view: PreflightView) => void;
let pages: Page[];

/** The invented night's door before it begins: no run yet, only its checks. */
async function serveChecks(): Promise<ServedNight> {
  const folder = await mkdtemp(join(tmpdir(), 'nightjar-night-'));
  const night = new FakeNight({ folder });
  const call = (name: string) => async () => void calls.push(name);
  const listeners = new Set<Parameters<typeof night.feed.subscribe>[0]>();
  tell = (next) => {
    shown = next;
    listeners.forEach((listener) => listener({ type: 'preflight', preflight: next }));
  };
  const feed = {
    snapshot: () => ({ run: null, tiles: [], flakes: [], progress: null, events: [] }),
    rest: () => [{ type: 'preflight', preflight: shown } as const],
    subscribe: (listener: Parameters<typeof night.feed.subscribe>[0]) => {
      listeners.add(listener);
      return () => void listeners.delete(listener);
    },
  };
  const preflight = { isChecking: false, checkAgain: call('checkAgain'), startNight: call('startNight'), stop: call('stop') };
  return serveFakeNight({ folder, night, door: { feed, controls: { ...night.controls, preflight, stop: call('stop') } } });
}

async function open(): Promise<Page> {
  const { page } = await openPage(browser, served.server.url);
  pages.push(page);
  await page.getByText('Nobody has the controls.').or(page.getByText(/^Watching/)).first().waitFor();
  return page;
}

beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser.close();
});
// A door of its own for each test: nobody has the controls yet.
beforeEach(async () => {
  pages = [];
  calls = [];
  shown = view(underWay);
  served = await serveChecks();
});
afterEach(async () => {
  await Promise.all(pages.map((page) => page.context().close()));
  await served.server.close();
  await rm(served.folder, { recursive: true, force: true });
});

describe('the page before the night', () => {
  it('shows the list to a late page at once, fills it live, and starts the night with S', async () => {
    tell(view(underWay));
    const page = await open();
    await page.getByText('under way').waitFor();
    expect(await page.getByRole('button', { name: 'Start the night' }).count()).toBe(0);
    await page.keyboard.press('s');
    tell(view(ready));
    await page.getByText('Ready for the night.').first().waitFor();
    await page.keyboard.press('s');
    await expect.poll(() => calls).toEqual(['startNight']);
  });

  it('has nothing but checking again, with R, when it is not ready or has aged', async () => {
    tell(view(notReady));
    const page = await open();
    await page.getByText('make room').waitFor();
    expect(await page.getByRole('button', { name: 'Start the night' }).count()).toBe(0);
    // What is to be mended stands first, and what only a person can see is in sight.
    expect(await page.getByRole('list', { name: 'Checks' }).getByRole('listitem').first().textContent()).toContain('NOT READY');
    expect(await page.getByRole('complementary', { name: 'What no check can see' }).getByRole('listitem').last().evaluate((item) => item.getBoundingClientRect().bottom < innerHeight)).toBe(true);
    await page.keyboard.press('s');
    await page.keyboard.press('r');
    await expect.poll(() => calls).toEqual(['checkAgain']);
    tell(view(ready, READINESS_HOLDS_MS + 1));
    await page.getByText(/It was ready more than 30 minutes ago/).first().waitFor();
    expect(await page.getByRole('button', { name: 'Start the night' }).count()).toBe(0);
  });

  it('leaves who only watches the list and the reason, and no button', async () => {
    tell(view(ready));
    const [first, second] = [await open(), await open()];
    await first.getByRole('button', { name: 'Take them' }).click();
    await second.getByText(/ask for them with K/).first().waitFor();
    await second.keyboard.press('s');
    expect(await second.getByRole('button', { name: 'Start the night' }).isDisabled()).toBe(true);
    expect(calls).toEqual([]);
  });
});
