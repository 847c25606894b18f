import { describe, expect, it } from 'vitest';
import { frameBytes } from '../../../daemon/doctor/network.ts';
import { DriverError } from '../../../drivers/interfaces/index.ts';
import { instrumentWith, simulatedInstrument } from './instruments.ts';
import { findingOf, findingsOf, FOLDER } from './madeUp.ts';

/** Protects: library, buffer and packets of a network camera; nothing is said where there is none. */

const found = { id: 'Halvard-HV4-HL-2207', vendor: 'Halvard', model: 'HV4', serial: 'HL-2207', address: '192.168.7.20', protocol: 'GigEVision' };
const answering = { kind: 'cameras', cameras: [found] } as const;
const overUsb = { kind: 'cameras', cameras: [{ ...found, address: '', protocol: 'USB3Vision' }] } as const;
const missing = { kind: 'libraryMissing', library: 'libaravis-0.8.so.0', debianPackage: 'libaravis-0.8-0' } as const;
const failed = { kind: 'failed', error: new DriverError('timeout', { device: 'camera' }) } as const;
const instrument = instrumentWith();

function camera(pixelFormat: string | undefined, bits = 8) {
  const format = pixelFormat === undefined ? {} : { pixelFormat };
  return instrumentWith(undefined, { driver: 'genicam', genicam: { serial: 'HL-2207', ...format }, widthPx: 2448, heightPx: 2048, bits });
}

describe('bytes of a frame', () => {
  // By hand: 2448 x 2048 = 5,013,504 pixels; three samples for RGB, one for mono and mosaics; two bytes beyond 8 bits.
  it.each([
    ['RGB8', 8, 15_040_512],
    ['Mono8', 8, 5_013_504],
    ['BayerRG8', 8, 5_013_504],
    ['BayerRG12', 12, 10_027_008],
    ['Mono16', 16, 10_027_008],
    [undefined, 8, 15_040_512],
    [undefined, 12, 30_081_024],
  ])('%s at %i bits: %i', (format, bits, expected) => {
    expect(frameBytes(camera(format, bits).camera)).toBe(expected);
  });
});

describe('the buffer for a network camera', () => {
  // 256 x 208 pixels of the made-up instrument, RGB: 159,744 bytes, under the kernel's usual 212,992.
  it('holds a frame', async () => {
    expect(await findingOf('network buffer', { instrument, cameras: answering })).toMatchObject({ verdict: 'ok' });
  });
  it('is smaller than a frame: says how to widen it, in whole MiB', async () => {
    const finding = await findingOf('network buffer', { instrument: camera('RGB8'), cameras: answering });
    expect(finding.verdict).toBe('toMend');
    expect(finding.seen).toContain('213 kB at most, a frame of the camera has 15 MB');
    // 15,040,512 bytes are 14.34 MiB, so 15 x 1,048,576 bytes.
    expect(finding.mend).toBe('sudo sysctl -w net.core.rmem_max=15728640, and to keep it: echo net.core.rmem_max=15728640 | sudo tee /etc/sysctl.d/60-nightjar.conf; or sudo setcap cap_net_raw+ep /usr/bin/node');
  });
  it('does not matter to a process with packet sockets: capability 13 of linux/capability.h, so bit 0x2000', async () => {
    const status = (mask: string) => ({ texts: { '/proc/self/status': `CapInh:\t0000000000000000\nCapEff:\t${mask}\n` } });
    expect(await findingOf('network buffer', { instrument: camera('RGB8'), cameras: answering, ...status('0000000000002000') })).toMatchObject({ verdict: 'ok' });
    expect(await findingOf('network buffer', { instrument: camera('RGB8'), cameras: answering, ...status('00000000a80405fb') })).toMatchObject({ verdict: 'toMend' });
    expect(await findingOf('network buffer', { instrument: camera('RGB8'), cameras: answering, ...status('000001ffffffffff') })).toMatchObject({ verdict: 'ok' });
  });
  it('cannot be read: still says what to do', async () => {
    const finding = await findingOf('network buffer', { instrument: camera('RGB8'), cameras: answering, texts: { '/proc/sys/net/core/rmem_max': undefined } });
    expect(finding).toMatchObject({ verdict: 'cannotBeTold', mend: expect.stringContaining('sysctl -w net.core.rmem_max=15728640') });
  });
  it('is advice while the camera has not answered, and must be mended where it is named by its address', async () => {
    expect(await findingOf('network buffer', { instrument: camera('RGB8') })).toMatchObject({ verdict: 'advice' });
    const byAddress = instrumentWith(undefined, { driver: 'genicam', genicam: { address: '192.168.7.20' }, widthPx: 2048, heightPx: 2048 });
    expect(await findingOf('network buffer', { instrument: byAddress })).toMatchObject({ verdict: 'toMend' });
  });
  it('is not looked at without a network camera', async () => {
    for (const change of [{}, { instrument: simulatedInstrument() }, { instrument, cameras: overUsb }]) {
      expect(await findingsOf('network buffer', change)).toEqual([]);
      expect(await findingsOf('network packets', change)).toEqual([]);
    }
  });
});

/** A network interface as sysfs shows it. */
function networkInterface(name: string, mtu: number, { state = 'up', isReal = true, isRadio = false } = {}) {
  const at = `/sys/class/net/${name}`;
  return { texts: { [`${at}/mtu`]: `${mtu}\n`, [`${at}/operstate`]: `${state}\n` }, facts: { ...(isReal ? { [`${at}/device`]: FOLDER } : {}), ...(isRadio ? { [`${at}/wireless`]: FOLDER } : {}) } };
}

describe('packets of a network camera', () => {
  const about = (...parts: readonly ReturnType<typeof networkInterface>[]) =>
    findingOf('network packets', { instrument, cameras: answering, texts: Object.assign({}, ...parts.map(({ texts }) => texts)) as Record<string, string>, facts: Object.assign({}, ...parts.map(({ facts }) => facts)) as Record<string, typeof FOLDER> });

  it('may be large', async () => {
    expect(await about(networkInterface('eno1', 1500), networkInterface('enp3s0', 9000))).toMatchObject({ verdict: 'ok', seen: 'eno1 carries 1500 bytes, enp3s0 carries 9000 bytes' });
  });
  it('are small: says how to let larger ones through', async () => {
    const finding = await about(networkInterface('eno1', 1500));
    expect(finding.verdict).toBe('advice');
    expect(finding.mend).toContain('sudo ip link set dev eno1 mtu 9000');
  });
  it('cannot be told: radio, virtual and sleeping interfaces do not count', async () => {
    const others = [networkInterface('lo', 65_536, { state: 'unknown', isReal: false }), networkInterface('wlp2s0', 1500, { isRadio: true }), networkInterface('docker0', 1500, { isReal: false }), networkInterface('eno2', 1500, { state: 'down' })];
    expect(await about(...others)).toMatchObject({ verdict: 'cannotBeTold', mend: 'ip link' });
  });
});

describe('the camera library', () => {
  it('can be loaded', async () => {
    expect(await findingOf('camera library')).toMatchObject({ verdict: 'ok', seen: 'can be loaded; no camera answers' });
    expect(await findingOf('camera library', { cameras: answering })).toMatchObject({ verdict: 'ok', seen: expect.stringContaining('Halvard-HV4-HL-2207') });
  });
  it('is missing: must be mended only where the instrument needs it', async () => {
    const mend = 'sudo apt-get install libaravis-0.8-0';
    expect(await findingOf('camera library', { cameras: missing })).toMatchObject({ verdict: 'advice', mend });
    expect(await findingOf('camera library', { cameras: missing, instrument: simulatedInstrument() })).toMatchObject({ verdict: 'advice', mend });
    expect(await findingOf('camera library', { cameras: missing, instrument })).toMatchObject({ verdict: 'toMend', mend });
  });
  it('cannot be told where looking failed', async () => {
    expect(await findingOf('camera library', { cameras: failed })).toMatchObject({ verdict: 'cannotBeTold', seen: expect.stringContaining('A device did not answer in time') });
  });
});
