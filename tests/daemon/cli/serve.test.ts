import { afterEach, describe, expect, it, vi } from 'vitest';
import { WebSocket } from 'ws';
import { openRecords } from '../../../daemon/records/index.ts';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { CliFolders, runCli } from './runCli.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: `nightjar serve` opens its page on this computer only, runs or goes on with a night, and ends well on Ctrl-C. */

const folders = new CliFolders();
afterEach(() => folders.clear());

type Files = ReturnType<CliFolders['make']>;
const serveWords = ({ instrument, data }: Files, ...more: readonly string[]): string[] => ['serve', ...more, '--instrument', instrument, '--data', data, '--port', '0'];

function stateIn(data: string): string | undefined {
  const records = openRecords(data, { readOnly: true });
  try {
    return records.latestRun()?.state;
  } finally {
    records.close();
  }
}

/** A page whose person takes the controls and, when the checks have ended, presses the start twice. */
function startWhenReady(port: string): WebSocket {
  const page = new WebSocket(`ws://127.0.0.1:${port}/night`, { headers: { origin: `http://127.0.0.1:${port}` } });
  const ask = (type: string, request: string): void => page.send(JSON.stringify({ type, request }));
  page.on('open', () => ask('takeControls', 'r1'));
  page.on('message', (data) => {
    if (!/"type":"preflight".*"readiness":"(ready|toBeLookedAt)"/.test(String(data))) return;
    ask('startNight', 'r2');
    ask('startNight', 'r3');
  });
  return page;
}

describe('nightjar serve', () => {
  it('runs a night with the page open, then stays until Ctrl-C and ends with 0', async () => {
    const files = folders.make();
    let page: Promise<Response> | undefined;
    const { code, output } = await runCli(serveWords(files, files.sheet), {
      watch(said, interrupt) {
        const address = /http:\/\/127\.0\.0\.1:\d+\S*/.exec(said)?.[0].replace(/\.$/, '');
        if (address !== undefined) page ??= fetch(address);
        if (said.includes('flagged.')) interrupt();
      },
    });
    expect(code).toBe(0);
    expect((await page)?.status).toBe(200);
    expect(output).toMatch(/Done: \d+ tiles/);
    expect(stateIn(files.data)).toBe('finished');
  });

  it('parks on Ctrl-C in the middle, and goes on with that night when it is started again without a run sheet', async () => {
    const files = folders.make();
    const first = await runCli(serveWords(files, files.sheet), { watch: (said, interrupt) => void (/ [2-9]\/\d+ tiles/.test(said) && interrupt()) });
    expect(first.code).toBe(0);
    expect(stateIn(files.data)).toBe('parked');
    expect(await runCli(serveWords(files, files.sheet))).toMatchObject({ code: 2, errors: expect.stringContaining('has not come to its end') });
    const second = await runCli(serveWords(files), { watch: (said, interrupt) => void (said.includes('Done: ') && interrupt()) });
    expect(second.code).toBe(0);
    expect(stateIn(files.data)).toBe('finished');
  });

  it('checks first with --preflight, and writes no night when it ends before one is started', async () => {
    const files = folders.make();
    const { code } = await runCli(serveWords(files, files.sheet, '--preflight'), { watch: (said, interrupt) => void (said.includes('The night begins when') && interrupt()) });
    expect(code).toBe(0);
    expect(stateIn(files.data)).toBeUndefined();
  });

  it('starts the night once when a page that has the controls asks twice', async () => {
    const files = folders.make();
    let page: WebSocket | undefined;
    const { code, output } = await runCli(serveWords(files, files.sheet, '--preflight'), {
      watch(said, interrupt) {
        const port = /http:\/\/127\.0\.0\.1:(\d+)/.exec(said)?.[1];
        if (port !== undefined) page ??= startWhenReady(port);
        if (said.includes('flagged.')) interrupt();
      },
    });
    page?.terminate();
    expect(code).toBe(0);
    expect(output.match(/Done: \d+ tiles/g)).not.toBeNull();
    expect(stateIn(files.data)).toBe('finished');
    const records = openRecords(files.data, { readOnly: true });
    expect(records.runIds()).toHaveLength(1);
    records.close();
  });

  it('refuses a port that is none', async () => {
    expect(await runCli(['serve', '--instrument', folders.make().instrument, '--data', folders.make().data, '--port', '70000'])).toMatchObject({
      code: 2,
      errors: expect.stringContaining('--port 70000: a whole number from 0 to 65535 is wanted'),
    });
  });
});
