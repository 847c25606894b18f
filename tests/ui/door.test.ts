import { rm } from 'node:fs/promises';
import type { Browser } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it, vi } from 'vitest';
import { systemSecrets } from '../../daemon/server/systemSecrets.ts';
import { makeToken, recordOf } from '../../daemon/server/token.ts';
import type { TokenRecord } from '../../daemon/server/token.ts';
import { slowMachineMs } from '../support/tinyNight.ts';
import { launchBrowser, openPage, serveFakeNight } from './browser.ts';
import type { ServedNight } from './browser.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a browser without the token sees the door and nothing else; one that gave it is in, and out again when the token is replaced. */

/** The real cost is tested by itself: it would only slow this down. */
const QUICK = { N: 16_384, r: 1, p: 1 };

let browser: Browser;
let served: ServedNight | undefined;

beforeAll(async () => {
  browser = await launchBrowser();
});
afterAll(async () => {
  await browser.close();
});
afterEach(async () => {
  await served?.server.close();
  if (served) await rm(served.folder, { recursive: true, force: true });
  served = undefined;
});

async function serveWithToken(): Promise<{ token: string; replace: () => Promise<void>; url: string }> {
  const token = makeToken(systemSecrets);
  let record: TokenRecord = await recordOf(token, systemSecrets, 0, QUICK);
  served = await serveFakeNight({ door: { readToken: async () => record } });
  const replace = async (): Promise<void> => {
    record = await recordOf(makeToken(systemSecrets), systemSecrets, 1, QUICK);
  };
  return { token, replace, url: served.server.url };
}

describe('the door', () => {
  it('asks for the token, says when it is wrong, lets in with the right one, and again after a reload', async () => {
    const { token, url } = await serveWithToken();
    const { page } = await openPage(browser, url);
    const field = page.getByLabel('Token', { exact: true });
    await field.waitFor();
    expect(await page.content()).not.toContain('Keys');
    expect(await field.evaluate((element) => element === document.activeElement)).toBe(true);
    await page.keyboard.type('not-the-token');
    await page.keyboard.press('Enter');
    await page.getByRole('alert').getByText('This is not the token.').waitFor();
    await field.fill(` ${token.toUpperCase()} `);
    await page.getByRole('button', { name: 'Come in' }).click();
    await page.getByText('The daemon is here').waitFor();
    expect(page.url()).toBe(url);
    await page.reload();
    await page.getByText('The daemon is here').waitFor();
    const [cookie, ...others] = await page.context().cookies();
    expect(cookie).toMatchObject({ httpOnly: true, sameSite: 'Strict', path: '/' });
    expect(others).toEqual([]);
    expect(await page.evaluate(() => document.cookie)).toBe('');
    await page.context().close();
  });

  it('is shown again as soon as the token is replaced', async () => {
    const { token, replace, url } = await serveWithToken();
    const { page } = await openPage(browser, url);
    await page.getByLabel('Token', { exact: true }).fill(token);
    await page.keyboard.press('Enter');
    await page.getByText('The daemon is here').waitFor();
    await replace();
    await page.getByLabel('Token', { exact: true }).waitFor();
    await page.context().close();
  });
});
