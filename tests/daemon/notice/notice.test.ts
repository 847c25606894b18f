import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import chromium from '@sparticuz/chromium';
import { chromium as playwright, type Browser } from 'playwright-core';
import { afterAll, describe, expect, it } from 'vitest';
import { parseInstrument, parseRunSheet } from '../../../daemon/config/load.ts';
import { factsOf, type NoticeFacts } from '../../../daemon/notice/facts.ts';
import { noticeHtml } from '../../../daemon/notice/html.ts';
import { dayAndTime, startFrom } from '../../../daemon/notice/times.ts';
import { planNight } from '../../../daemon/run/planNight.ts';
import { runCli } from '../cli/runCli.ts';
import { instrumentText, runSheetText } from '../config/samples.ts';

/** Protects: the door notice says what runs, until when, what can hurt, how to stop and whom to call, on one page whatever the files hold; and what they hold is text. */

const folder = mkdtempSync(join(tmpdir(), 'nightjar-notice-'));
let opened: Browser | undefined;

/** The browser that the global set-up unpacked; run as root it has no sandbox. */
async function browser(): Promise<Browser> {
  const executablePath = process.env.NIGHTJAR_CHROMIUM;
  if (!executablePath) throw new Error('NIGHTJAR_CHROMIUM is not set: browser tests run through tests/vitest.config.ts');
  opened ??= await playwright.launch({ executablePath, args: chromium.args.filter((arg) => arg !== '--single-process'), headless: true });
  return opened;
}
afterAll(async () => {
  await opened?.close();
  rmSync(folder, { recursive: true, force: true });
});

const fromMs = new Date('2026-01-17T21:30:00').getTime();

function factsFrom(runSheet: string, instrument: string): NoticeFacts {
  const [sheet, config] = [parseRunSheet(runSheet, 'tonight.yaml'), parseInstrument(instrument, 'instrument.yaml')];
  return factsOf({ sheet, config, plan: planNight(sheet, config), fromMs });
}

/** As much as both schemas let in: 24 chips, every name as long as can be, a lamp by hand, close-ups at high magnification. */
function fullest(): NoticeFacts {
  const materials = ['graphene', 'graphite', 'hbn', 'mos2', 'ws2', 'mose2', 'wse2', 'nbse2'];
  const chips = Array.from({ length: 24 }, (_, n) => `  - { name: "${`${n} ${'W'.repeat(60)}`.slice(0, 60)}", material: ${materials[n % 8] ?? ''}, oxideNm: 290, outline: { rectangle: { centreUm: [${6000 + (n % 6) * 11_000}, ${6000 + Math.floor(n / 6) * 11_000}], widthUm: 2000, heightUm: 2000 } } }`);
  const sheet = `title: "${'W'.repeat(60)}"\noperator: { initials: "WWWWWWWW", contact: "${'telephone 0000 0000 or room W '.repeat(7).slice(0, 200)}" }\nopticalPath: search\ncloseUps: { opticalPath: close, budgetMin: 60 }\nchips:\n${chips.join('\n')}\n`;
  const instrument = instrumentText.replace('Bench two', 'W'.repeat(60)).replace('lamp: { driver: simulated }', 'lamp: { driver: byHand, kind: halogen }');
  return factsFrom(sheet, instrument);
}

const fewest = (): NoticeFacts => factsFrom(runSheetText, instrumentText);

describe('the page', () => {
  const cases = (['A4', 'Letter'] as const).flatMap((format) => [[format, 'two chips', fewest], [format, '24 chips with long names', fullest]] as const);

  it.each(cases)('is one sheet of %s for %s, with nothing cut off', async (format, _, facts) => {
    const file = join(folder, 'notice.html');
    writeFileSync(file, noticeHtml(facts()));
    const page = await (await browser()).newPage();
    const asked: string[] = [];
    page.on('request', (request) => asked.push(request.url()));
    await page.goto(pathToFileURL(file).href);
    const pdf = await page.pdf({ format });
    // ISO 32000-1, 7.7.3.3: every page is a dictionary of type Page.
    expect(pdf.toString('latin1').match(/\/Type\s*\/Page\b/g)).toHaveLength(1);
    await page.emulateMedia({ media: 'print' });
    const main = page.locator('main');
    const room = await main.evaluate((element) => ({ over: element.scrollHeight - element.clientHeight, beside: element.scrollWidth - element.clientWidth }));
    expect(room).toEqual({ over: 0, beside: 0 });
    expect(asked).toHaveLength(1);
    await page.close();
  });

  it('says that a stop in software is no safety device, after the switch, and that local rules decide', () => {
    const html = noticeHtml(fewest());
    expect(html.indexOf('Take the power from the motors')).toBeLessThan(html.indexOf('A stop in software is not a safety device'));
    expect(html).toContain('The rules of this room and its trained people decide');
    expect(html).toContain('r.d.: phone 214');
  });

  it('takes names as text', () => {
    const html = noticeHtml({ ...fewest(), title: '<script>x</script>', instrument: '"><img src=x>', contact: 'a & b\r\n<b>' });
    expect(html).not.toMatch(/<script|<img/);
    expect(html).toContain('a &amp; b &lt;b&gt;');
  });
});

describe('what it says', () => {
  it('warns of what this instrument has', () => {
    expect(fullest().hazards.join(' ')).toMatch(/turret turns; it comes within millimetres.*halogen lamp housing hot.*stays on after/);
    const led = factsFrom(runSheetText, instrumentText.replace('lamp: { driver: simulated }', 'lamp: { driver: simulated, kind: whiteLed }')).hazards.join(' ');
    expect(led).toContain('Bright LED light');
    expect(led).not.toMatch(/halogen|turret|stays on/);
  });

  it('gives the forecast with close-ups, and a margin of half an hour or a quarter', () => {
    const { forecastEndMs, latestEndMs, marginMin } = fullest();
    expect(forecastEndMs - fromMs).toBeGreaterThan(3_600_000);
    expect((latestEndMs - forecastEndMs) / 60_000).toBeCloseTo(Math.max(30, (forecastEndMs - fromMs) / 240_000), 6);
    expect(marginMin).toBe(Math.round((latestEndMs - forecastEndMs) / 60_000));
  });

  it('reads a start as the next or the last such time of day', () => {
    expect(dayAndTime(startFrom('21:30', fromMs) ?? 0)).toBe('Sat 17 Jan, 21:30');
    expect(dayAndTime(startFrom('1:05', fromMs) ?? 0)).toBe('Sun 18 Jan, 01:05');
    expect(dayAndTime(startFrom('20:00', fromMs) ?? 0)).toBe('Sat 17 Jan, 20:00');
    expect(startFrom('25:00', fromMs)).toBeUndefined();
  });
});

describe('nightjar notice', () => {
  it('writes the page, and refuses a name that a browser would not open', async () => {
    const [sheet, instrument, out] = ['tonight.yaml', 'instrument.yaml', 'door.html'].map((name) => join(folder, name)) as [string, string, string];
    writeFileSync(sheet, runSheetText);
    writeFileSync(instrument, instrumentText);
    expect(await runCli(['notice', sheet, '--instrument', instrument, '--out', out, '--from', '21:30'])).toMatchObject({ code: 0, output: expect.stringMatching(/door\.html: from \w{3} \d+ \w{3}, 21:30, forecast until/) });
    expect(readFileSync(out, 'utf8')).toContain('Two chips');
    expect(await runCli(['notice', sheet, '--instrument', instrument, '--out', 'door.pdf'])).toMatchObject({ code: 2, errors: expect.stringContaining('ends in .html') });
    expect(await runCli(['notice', sheet, '--instrument', instrument, '--from', 'late'])).toMatchObject({ code: 2, errors: expect.stringContaining('like 21:30') });
  });
});
