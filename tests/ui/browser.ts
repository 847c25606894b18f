import { mkdtemp } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import chromium from '@sparticuz/chromium';
import { chromium as playwright } from 'playwright-core';
import type { Browser, Page } from 'playwright-core';
import { startServer } from '../../daemon/server/index.ts';
import type { RunningServer, ServerOptions } from '../../daemon/server/index.ts';
import { systemSecrets } from '../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../drivers/clock/systemClock.ts';
import { FakeNight } from './fakeNight.ts';

/**
 * Flags that the packed browser brings and ours does not take. Without web security a browser says of no request where it came from:
 * nobody's browser is like that, and the door could not be tested.
 */
const UNLIKE_A_BROWSER: readonly string[] = ['--single-process', '--disable-web-security'];
/** A graphics card played by the processor takes seconds for each new page; nothing on ours asks for one. */
const PLAYED_GRAPHICS = /gpu|=angle|swiftshader/;

/** The browser that the global set-up unpacked; run as root it has no sandbox. */
export function launchBrowser(): Promise<Browser> {
  const executablePath = process.env.NIGHTJAR_CHROMIUM;
  if (!executablePath) throw new Error('NIGHTJAR_CHROMIUM is not set: browser tests run through tests/vitest.config.ts');
  const args = chromium.args.filter((arg) => !UNLIKE_A_BROWSER.includes(arg) && !PLAYED_GRAPHICS.test(arg));
  return playwright.launch({ executablePath, args: [...args, '--disable-gpu'], headless: true });
}

/** Folder of the built page. */
export function builtPage(): string {
  const index = process.env.NIGHTJAR_BUILT_PAGE;
  if (!index) throw new Error('The page is not built. Run `npm run build` first.');
  return dirname(index);
}

export interface ServedNight {
  /** Where the pictures are; for the test to remove. */
  readonly folder: string;
  readonly night: FakeNight;
  readonly server: RunningServer;
}

/** An invented night behind a real server. `port` for one that comes back where another was. */
export async function serveFakeNight(options: { readonly port?: number; readonly night?: FakeNight; readonly folder?: string; readonly door?: Partial<ServerOptions> } = {}): Promise<ServedNight> {
  const folder = options.folder ?? (await mkdtemp(join(tmpdir(), 'nightjar-night-')));
  const night = options.night ?? new FakeNight({ folder });
  const log = { info: () => undefined, warn: () => undefined };
  const server = await startServer({ port: options.port ?? 0, feed: night.feed, controls: night.controls, pictures: night.pictures, uiDirectory: builtPage(), log, clock: createSystemClock(), secrets: systemSecrets, ...options.door });
  return { folder, night, server };
}

/** A page on which every error in the console, and every blocked request, is kept. */
export async function openPage(browser: Browser, url: string, options: { readonly width?: number; readonly height?: number } = {}): Promise<{ page: Page; errors: string[] }> {
  const context = await browser.newContext({ viewport: { width: options.width ?? 1440, height: options.height ?? 900 }, reducedMotion: 'reduce' });
  const page = await context.newPage();
  const errors: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') errors.push(message.text());
  });
  page.on('pageerror', (error) => errors.push(error.message));
  await page.goto(url);
  return { page, errors };
}
