import { mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import { slowMachineMs } from '../../support/tinyNight.ts';
import { CliFolders, runCli } from './runCli.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: the command line opens the page to others only with a token and a certificate, or says in so many words what is missing. */

const folders = new CliFolders();
let state: string;
beforeEach(() => {
  state = mkdtempSync(join(tmpdir(), 'nightjar-state-'));
  vi.stubEnv('XDG_STATE_HOME', state);
});
afterEach(() => {
  vi.unstubAllEnvs();
  rmSync(state, { recursive: true, force: true });
  folders.clear();
});

const TOKEN = /\b([0-9a-z]{4}-){7}[0-9a-z]{4}\b/;
function serveWords(...more: readonly string[]): string[] {
  const { instrument, data } = folders.make();
  return ['serve', '--instrument', instrument, '--data', data, '--port', '0', ...more];
}

describe('nightjar token', () => {
  it('prints a token once, then only that there is one, and with --new another', async () => {
    const first = await runCli(['token']);
    expect(first.code).toBe(0);
    const [token = 'none'] = TOKEN.exec(first.output) ?? [];
    expect(token).not.toBe('none');
    expect(readFileSync(join(state, 'nightjar', 'door-token.json'), 'utf8')).not.toContain(token);
    const second = await runCli(['token']);
    expect(second.output).toContain('cannot be shown again');
    expect(second.output).not.toMatch(TOKEN);
    const [other] = TOKEN.exec((await runCli(['token', '--new'])).output) ?? [];
    expect(other).not.toBe(token);
  });
});

describe('nightjar serve, for others', () => {
  it('is refused without a certificate, and says what to do instead', async () => {
    const { code, errors, output } = await runCli(serveWords('--host', '0.0.0.0'));
    expect(code).toBe(2);
    expect(errors).toMatch(/in the clear.*`--certificate` and `--key`.*`ssh -L`/);
    expect(output).not.toMatch(TOKEN);
    expect(await runCli(serveWords('--certificate', 'cert.pem'))).toMatchObject({ code: 2, errors: expect.stringContaining('belong together') as unknown });
    expect(await runCli(serveWords('--certificate', join(state, 'none.pem'), '--key', join(state, 'key.pem')))).toMatchObject({ code: 2, errors: expect.stringContaining('none.pem') as unknown });
  });

  it('without encryption warns in words that nobody misses, makes the first token, and asks for it', async () => {
    let page: Promise<Response> | undefined;
    const { code, output, errors } = await runCli(serveWords('--host', '0.0.0.0', '--unencrypted'), {
      watch(said, interrupt) {
        const port = /The page is at http:\/\/[\d.]+:(\d+)/.exec(said)?.[1];
        if (port === undefined || page) return;
        page = fetch(`http://127.0.0.1:${port}/`);
        void page.finally(interrupt);
      },
    });
    expect(code).toBe(0);
    expect(errors).toContain('WITHOUT ENCRYPTION');
    expect(output).toMatch(TOKEN);
    expect((await page)?.status).toBe(401);
  });
});
