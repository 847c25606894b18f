import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type AddressInfo } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { Command } from 'commander';
import { afterEach, describe, expect, it } from 'vitest';
import { instrumentsCommand, listInstruments } from '../../../daemon/cli/instruments.ts';
import { exitCodeFor, sentenceFor } from '../../../daemon/errors/index.ts';
import type { Finder } from '../../../daemon/instruments/finder.ts';
import type { SurveyedDevice } from '../../../daemon/instruments/survey.ts';
import { createSystemFinder } from '../../../daemon/instruments/systemFinder.ts';
import { systemSecrets } from '../../../daemon/server/systemSecrets.ts';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import { instrumentText, SPARE_PORT, STAGE_PORT } from '../doctor/instruments.ts';

/** Protects: what is there is listed, what an instrument file asks for is found or said to be missing, and looking opens and sends nothing. */

const clock = createSystemClock();
const toEnd: (() => unknown)[] = [];
afterEach(async () => {
  for (const end of toEnd.splice(0).reverse()) await end();
});

const camera = { id: 'Halvard-HV4-HL-2207', vendor: 'Halvard', model: 'HV4', serial: 'HL-2207', address: '192.168.7.20', protocol: 'GigEVision' };

/** A made-up bench: one camera, one stable port, one without a stable name, and one controller on the network. */
function bench(changes: Partial<Finder> = {}): Finder {
  const devices: Readonly<Record<string, string>> = { [STAGE_PORT]: '/dev/ttyUSB0', '/dev/ttyUSB0': '/dev/ttyUSB0', '/dev/ttyACM0': '/dev/ttyACM0', '/data/set': '/data/set' };
  return {
    cameras: async () => ({ kind: 'cameras', cameras: [camera] }),
    serialPorts: async () => [
      { name: STAGE_PORT, device: '/dev/ttyUSB0', isStable: true },
      { name: '/dev/ttyACM0', device: '/dev/ttyACM0', isStable: false },
    ],
    deviceAt: async (path) => devices[path],
    reach: async (host) => (host === '192.168.7.30' ? { ok: true } : { ok: false, reason: 'nobody listens there' }),
    programAt: async (name) => (name === 'ffmpeg' ? '/usr/bin/ffmpeg' : undefined),
    ...changes,
  };
}

const emptyBench: Partial<Finder> = { cameras: async () => ({ kind: 'cameras', cameras: [] }), serialPorts: async () => [] };

function fileOf(text: string): string {
  const folder = mkdtempSync(join(tmpdir(), 'nightjar-instruments-'));
  toEnd.push(() => rmSync(folder, { recursive: true, force: true }));
  const file = join(folder, 'bench.yaml');
  writeFileSync(file, text);
  return file;
}

interface End {
  readonly code: number;
  readonly said: string;
}

async function list(finder: Finder, text?: string, json = false): Promise<End> {
  let said = '';
  const output = { isTerminal: false, columns: 100, write: (words: string) => void (said += words) };
  const code = await listInstruments({ output }, finder, text === undefined ? undefined : fileOf(text), json);
  return { code, said };
}

/** The row of one device, its columns set apart by single bars. */
function rowOf({ said }: End, device: string): string {
  const row = said.split('\n').find((line) => line.startsWith(`${device} `)) ?? '';
  return row.replace(/ {2,}/g, ' | ');
}

describe('nightjar instruments without a file', () => {
  it('lists cameras and ports, and says which port has no stable name', async () => {
    const { code, said } = await list(bench());
    expect(code).toBe(0);
    expect(said).toMatch(/HL-2207 +Halvard +HV4 +192\.168\.7\.20 +GigEVision/);
    expect(said).toMatch(new RegExp(`${STAGE_PORT} +at /dev/ttyUSB0 now`));
    expect(said).toMatch(/\/dev\/ttyACM0 +without a stable name/);
    expect(said).not.toContain('Devices of');
  });
  it('says so where nothing is there', async () => {
    const { code, said } = await list(bench(emptyBench));
    expect(code).toBe(0);
    expect(said).toContain('Cameras (GenICam): none answers.');
    expect(said).toContain('Serial ports (USB): none is plugged in.');
  });
  it('names what to install where the library is missing, in one line and without failing', async () => {
    const missing = { kind: 'libraryMissing', library: 'libaravis-0.8.so.0', debianPackage: 'libaravis-0.8-0' } as const;
    const { code, said } = await list(bench({ cameras: async () => missing }));
    expect(code).toBe(0);
    expect(said.split('\n')[0]).toMatch(/^Cameras: not looked for, .*sudo apt-get install libaravis-0\.8-0$/);
  });
  it('says what failed where looking for cameras failed', async () => {
    const failed = { kind: 'failed', error: new DriverError('timeout', { device: 'camera' }) } as const;
    const { code, said } = await list(bench({ cameras: async () => failed }));
    expect(code).toBe(0);
    expect(said).toContain('Cameras: A device did not answer in time (device camera).');
  });
  it('gives plain data to scripts', async () => {
    const data = JSON.parse((await list(bench(), undefined, true)).said);
    expect(data).toEqual({ cameras: { kind: 'cameras', cameras: [camera] }, serialPorts: await bench().serialPorts() });
  });
});

describe('nightjar instruments with a file', () => {
  it('finds port and camera, and asks nothing of what is simulated or turned by hand', async () => {
    const end = await list(bench(), instrumentText());
    expect(end.code).toBe(0);
    expect(rowOf(end, 'stage')).toBe(`stage | gcode | line motion: ${STAGE_PORT} at 115200 baud | found, at /dev/ttyUSB0`);
    expect(rowOf(end, 'focus')).toBe(`focus | gcode | line motion: ${STAGE_PORT} at 115200 baud | found, at /dev/ttyUSB0`);
    expect(rowOf(end, 'camera')).toBe('camera | genicam | serial number HL-2207 | found, Halvard HV4 HL-2207 192.168.7.20');
    expect(rowOf(end, 'turret')).toBe('turret | byHand | nothing');
  });
  it.each([
    ['a port that is not plugged in', { serial: { port: SPARE_PORT } }, /NOT FOUND, not there/],
    ['an address where nobody listens', { tcp: { host: '192.168.7.31', port: 4400 } }, /192\.168\.7\.31 port 4400 \| NOT FOUND, nobody listens there/],
  ])('names %s, and fails', async (_, line, row) => {
    const end = await list(bench(), instrumentText(line));
    expect(end.code).toBe(1);
    expect(rowOf(end, 'stage')).toMatch(row);
  });
  it('takes a connection as found, tried once for all devices behind it', async () => {
    let tries = 0;
    const reach: Finder['reach'] = async () => {
      tries++;
      return { ok: true };
    };
    const end = await list(bench({ reach }), instrumentText({ tcp: { host: '192.168.7.30', port: 4400 } }));
    expect(end.code).toBe(0);
    expect(rowOf(end, 'stage')).toContain('found, takes connections');
    expect(tries).toBe(1);
  });
  it('tells the stable name of a port that is named by its passing one', async () => {
    const end = await list(bench(), instrumentText({ serial: { port: '/dev/ttyUSB0' } }));
    expect(end.code).toBe(0);
    expect(rowOf(end, 'stage')).toContain(`its stable name is ${STAGE_PORT}`);
  });
  it.each([
    ['the first camera when none is named', { driver: 'genicam', genicam: {} }, 0, 'the first camera that answers | found, Halvard HV4'],
    ['a camera by its address', { driver: 'genicam', genicam: { address: '192.168.7.20' } }, 0, 'address 192.168.7.20 | found'],
    ['a camera by its id', { driver: 'genicam', genicam: { serial: 'Halvard-HV4-HL-2207' } }, 0, 'found'],
    ['another serial number', { driver: 'genicam', genicam: { serial: 'HL-9' } }, 1, 'NOT FOUND, not among the cameras that answer'],
    ['an address beyond this network', { driver: 'genicam', genicam: { address: '10.9.8.7' } }, 1, 'cannot be told'],
    ['a program that gives frames', { driver: 'rawVideo', rawVideo: { command: ['ffmpeg', '-i', 'x'], exposureMs: 8 } }, 0, 'program ffmpeg | found, at /usr/bin/ffmpeg'],
    ['a program that is not there', { driver: 'rawVideo', rawVideo: { command: ['fmpeg'], exposureMs: 8 } }, 1, 'NOT FOUND, no such program'],
    ['a folder of frames', { driver: 'frameSet', frameSet: { folder: '/data/set' } }, 0, 'folder /data/set | found'],
    ['a folder that is not there', { driver: 'frameSet', frameSet: { folder: '/data/other' } }, 1, 'NOT FOUND, no such folder'],
  ])('camera: %s', async (_, config, code, row) => {
    const end = await list(bench(), instrumentText(undefined, config));
    expect(rowOf(end, 'camera')).toContain(row);
    expect(end.code).toBe(code);
  });
  it('gives every device to scripts', async () => {
    const { devices } = JSON.parse((await list(bench(emptyBench), instrumentText(), true)).said) as { devices: readonly SurveyedDevice[] };
    expect(devices.map(({ device, whether }) => [device, whether])).toEqual([
      ['stage', 'found'],
      ['focus', 'found'],
      ['camera', 'missing'],
      ['turret', 'notNeeded'],
      ['lamp', 'notNeeded'],
    ]);
  });
});

describe('looking at this computer', () => {
  const finder = createSystemFinder(clock);

  it('connects over TCP and leaves again without a byte', async () => {
    let heard = 0;
    const server = createServer();
    const left = new Promise<void>((resolve) => {
      server.once('connection', (socket) => {
        socket.on('data', (bytes) => void (heard += bytes.length));
        socket.on('error', () => undefined);
        socket.once('close', () => resolve());
      });
    });
    await new Promise<void>((resolve) => void server.listen(0, '127.0.0.1', resolve));
    toEnd.push(() => new Promise((resolve) => void server.close(resolve)));
    const { port } = server.address() as AddressInfo;
    expect(await finder.reach('127.0.0.1', port)).toEqual({ ok: true });
    await left;
    expect(heard).toBe(0);
  });
  it('says why a connection did not come about', async () => {
    const server = createServer();
    await new Promise<void>((resolve) => void server.listen(0, '127.0.0.1', resolve));
    const { port } = server.address() as AddressInfo;
    await new Promise((resolve) => void server.close(resolve));
    expect(await finder.reach('127.0.0.1', port)).toEqual({ ok: false, reason: 'nobody listens there' });
  });
  it('gives up on an address that never answers', async () => {
    // Its time limit is over before any connection can have come about.
    const hasty = createSystemFinder({ now: () => clock.now(), sleep: async () => undefined, track: (operation) => operation });
    expect(await hasty.reach('127.0.0.1', 9)).toEqual({ ok: false, reason: 'no answer within 2 s' });
  });
  it('finds programs as a shell would, and links where they lead', async () => {
    expect(await finder.programAt(process.execPath)).toBe(process.execPath);
    expect(await finder.programAt('sh')).toMatch(/\/sh$/);
    expect(await finder.programAt('no-such-program-of-ours')).toBeUndefined();
    expect(await finder.programAt('/usr/bin/')).toBeUndefined();
    expect(await finder.deviceAt('/dev/null')).toBe('/dev/null');
    expect(await finder.deviceAt('/dev/no-such-device-of-ours')).toBeUndefined();
  });
});

async function run(...words: readonly string[]): Promise<End> {
  let said = '';
  const writer = { isTerminal: false, columns: 100, write: (text: string) => void (said += text) };
  const program = new Command('nightjar').exitOverride();
  let code = -1;
  instrumentsCommand(program, { clock, secrets: systemSecrets, output: writer, errors: writer, interrupted: new AbortController().signal }, (exit) => {
    code = exit;
  });
  try {
    await program.parseAsync(['instruments', ...words], { from: 'user' });
  } catch (error) {
    said += sentenceFor(error).sentence;
    code = exitCodeFor(error);
  }
  return { code, said };
}

describe('the command itself', () => {
  it('lists what this computer has, whatever that is', async () => {
    const { code, said } = await run('--json');
    expect(code).toBe(0);
    const data = JSON.parse(said);
    expect(['cameras', 'libraryMissing', 'failed']).toContain(data.cameras.kind);
    expect(Array.isArray(data.serialPorts)).toBe(true);
  });
  it('names the mistake in an instrument file before it looks for anything', async () => {
    const { code, said } = await run(fileOf(instrumentText().replace('serial:', 'seriall:')));
    expect(code).toBe(2);
    expect(said).toContain('the nearest valid key is "serial"');
  });
});
