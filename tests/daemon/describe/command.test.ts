import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, describe, expect, it } from 'vitest';
import { describeCommand } from '../../../daemon/cli/describe.ts';
import { lineFrom } from '../../../daemon/describe/lineFrom.ts';
import { exitCodeFor, sentenceFor } from '../../../daemon/errors/index.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { serveOverTcp } from '../../../simulators/farEnd/described/tcpServer.ts';
import { deviceText } from '../../drivers/described/rig.ts';

/** Protects: `nightjar describe` over a real connection, and its words on the command line. */

const clock = createSystemClock();
const toClose: (() => unknown)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

async function run(...words: readonly string[]): Promise<{ readonly code: number; readonly output: string }> {
  const said: string[] = [];
  const writer = { isTerminal: false, columns: 100, write: (text: string) => void said.push(text) };
  const program = new Command('nightjar').exitOverride();
  let code = -1;
  describeCommand(program, { clock, secrets: systemSecrets, output: writer, errors: writer, interrupted: new AbortController().signal }, (exit) => {
    code = exit;
  });
  try {
    await program.parseAsync(['describe', ...words], { from: 'user' });
  } catch (error) {
    said.push(sentenceFor(error).sentence);
    code = exitCodeFor(error);
  }
  return { code, output: said.join('') };
}

function fileOf(text: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-describe-'));
  toClose.push(() => rmSync(folder, { recursive: true, force: true }));
  const file = join(folder, 'mine.yaml');
  writeFileSync(file, text);
  return file;
}

async function box(): Promise<{ readonly fake: MarrowbeckLt4; readonly line: string }> {
  const fake = new MarrowbeckLt4(clock);
  const served = await serveOverTcp(fake);
  toClose.push(() => served.close());
  return { fake, line: `tcp:127.0.0.1:${served.tcpPort}` };
}

describe('nightjar describe', () => {
  it('says what it understood, and that the file is in order', async () => {
    const file = fileOf(deviceText('marrowbeck-lt4'));
    const { code, output } = await run(file);
    expect(code).toBe(0);
    expect(output).toContain(`${file}: the description of a device, in order.`);
    expect(output).toContain('stop           <ESC> (without terminator)  →  HALT');
  });

  it('names the line of a mistake', async () => {
    const { code, output } = await run(fileOf(deviceText('marrowbeck-lt4').replace('  echo: true', '  ecoh: true')));
    expect(code).toBe(2);
    expect(output).toMatch(/line 9, line\.ecoh: unknown key "ecoh"; the nearest valid key is "echo"/);
  });

  it('without a terminal asks nobody, moves nothing, and says what works', async () => {
    const { fake, line } = await box();
    const { code, output } = await run(fileOf(deviceText('marrowbeck-lt4')), '--try', '--line', line);
    expect(code).toBe(0);
    expect(output).toContain('local rules and people trained');
    expect(output).toContain('is no safety device');
    expect(output).toMatch(/turret: to the next place and back +not tried/);
    expect(fake.commands.filter((command) => command.includes('='))).toEqual(['L=0']);
  });

  it('ends with 1 when something does not work: nobody there, or a device that says nothing', async () => {
    const { fake, line } = await box();
    const file = fileOf(deviceText('marrowbeck-lt4').replace('replyWithinMs: 300', 'replyWithinMs: 20'));
    fake.mute();
    expect(await run(file, '--try', '--line', line)).toMatchObject({ code: 1, output: expect.stringMatching(/… nothing for 20 ms[\s\S]*the device says nothing/) as unknown });
    expect(await run(file, '--try', '--line', 'tcp:127.0.0.1:9')).toMatchObject({ code: 1, output: expect.stringContaining('nobody listens there') as unknown });
    expect(await run(file, '--try', '--line', 'serial:/dev/no-such-port@9600')).toMatchObject({ code: 1, output: expect.stringContaining('There is no such line to a device') as unknown });
  });

  it('wants a line to try on, as serial:PORT@BAUD or tcp:HOST:PORT', async () => {
    const file = fileOf(deviceText('marrowbeck-lt4'));
    expect(await run(file, '--try')).toMatchObject({ code: 2, output: expect.stringContaining('say where the device is') as unknown });
    expect(await run(file, '--line', 'tcp:a:1')).toMatchObject({ code: 2, output: expect.stringContaining('--line without --try') as unknown });
    for (const wrong of ['tcp:host', 'tcp:host:0', 'tcp:host:99999', 'serial:/dev/x', 'serial:@9600', 'usb:1']) expect(() => lineFrom(wrong)).toThrow();
    expect(lineFrom('serial:/dev/serial/by-id/usb-a@b-if00@115200')).toEqual({ kind: 'serial', port: '/dev/serial/by-id/usb-a@b-if00', baudRate: 115_200 });
    expect(lineFrom('tcp:[::1]:4400')).toEqual({ kind: 'tcp', host: '::1', tcpPort: 4400 });
  });
});
