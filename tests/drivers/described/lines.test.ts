import { createServer, type AddressInfo, type Server, type Socket } from 'node:net';
import fc from 'fast-check';
import { afterEach, describe, expect, it } from 'vitest';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import { openDescribed } from '../../../drivers/described/index.ts';
import { LineCutter } from '../../../drivers/described/lineCutter.ts';
import { Turns } from '../../../drivers/described/turns.ts';
import type { DriverError } from '../../../drivers/interfaces/index.ts';
import { serialOpener } from '../../../drivers/line/serialWire.ts';
import { tcpOpener } from '../../../drivers/line/tcpWire.ts';
import { MarrowbeckLt4 } from '../../../simulators/farEnd/described/marrowbeckLt4.ts';
import { serveOnPty } from '../../../simulators/farEnd/described/onPty.ts';
import { QuillfenQf200 } from '../../../simulators/farEnd/described/quillfenQf200.ts';
import { serveOverTcp } from '../../../simulators/farEnd/described/tcpServer.ts';
import { devicePlan, must } from './rig.ts';

/** Protects: bytes become lines however they are cut; real lines over TCP and a serial port open, break and close as they should. */

const clock = createSystemClock();
const toClose: (() => unknown)[] = [];
afterEach(async () => {
  for (const close of toClose.splice(0).reverse()) await close();
});

/** Listens on a free port, or takes one that nobody listens on. */
async function listening(onSocket: (socket: Socket) => void): Promise<{ readonly tcpPort: number; readonly server: Server }> {
  const server = createServer(onSocket);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  toClose.push(() => server.close());
  return { tcpPort: (server.address() as AddressInfo).port, server };
}

describe('lines', () => {
  it('are the same however their bytes are grouped', () => {
    const text = fc.string({ unit: fc.constantFrom('a', 'b', '\r', '\n', '\xff'), maxLength: 200 });
    fc.assert(
      fc.property(text, fc.constantFrom('\r', '\n', '\r\n'), fc.array(fc.integer({ min: 1, max: 20 }), { maxLength: 60 }), (all, terminator, cuts) => {
        const whole = new LineCutter(terminator, 400).push(Buffer.from(all, 'latin1'));
        const cutter = new LineCutter(terminator, 400);
        let at = 0;
        const pieces = [...cuts, 400].flatMap((length) => {
          const lines = cutter.push(Buffer.from(all.slice(at, at + length), 'latin1'));
          at += length;
          return lines;
        });
        expect(pieces).toEqual(whole);
        expect(whole.map(({ text: line }) => line)).toEqual(all.split(terminator).slice(0, -1));
      }),
    );
  });

  it('that never end are told once, held bounded, and over with the next end', () => {
    const cutter = new LineCutter('\r\n', 10);
    const told = Array.from({ length: 100 }, () => cutter.push(Buffer.from('aaaaaaa'))).flat();
    expect(told).toEqual([{ text: 'a'.repeat(10), isWhole: false }]);
    expect(cutter.unfinished.length).toBeLessThanOrEqual(10);
    expect(cutter.push(Buffer.from('\r\nOK\r\n'))).toEqual([{ text: 'OK', isWhole: true }]);
  });
});

describe('turns', () => {
  it('come one after the other, the urgent first, and too many are refused', async () => {
    const turns = new Turns();
    const order: string[] = [];
    const take = (name: string, isUrgent = false) => turns.take(async () => void order.push(name), isUrgent);
    const first = turns.take(() => clock.sleep(5));
    const others = [take('a'), take('b'), take('stop', true)];
    const many = Array.from({ length: 62 }, () => take('more'));
    await expect(take('one too many')).rejects.toMatchObject({ code: 'unsupported' });
    await Promise.all([first, ...others, ...many]);
    expect(order.slice(0, 3)).toEqual(['stop', 'a', 'b']);
  });
});

describe('a line over TCP', () => {
  const deaf = { received: () => undefined, lost: () => undefined };

  it('on which nobody listens, or of a host that is none, is no such line', async () => {
    const { tcpPort, server } = await listening(() => undefined);
    await new Promise((resolve) => server.close(resolve));
    await expect(tcpOpener({ host: '127.0.0.1', tcpPort }, clock)(deaf)).rejects.toMatchObject({ code: 'noSuchLine', details: { line: `127.0.0.1:${tcpPort}`, reason: 'nobody listens there' } });
    await expect(tcpOpener({ host: 'no-such-host.invalid', tcpPort, connectWithinMs: 500 }, clock)(deaf)).rejects.toMatchObject({ code: expect.stringMatching(/^(noSuchLine|timeout)$/) as unknown });
  });

  it('says once that it is lost, and then takes nothing', async () => {
    const { tcpPort } = await listening((socket) => {
      socket.on('error', () => undefined);
      socket.once('data', () => socket.destroy());
    });
    const lost = await new Promise<DriverError>((resolve, reject) => {
      tcpOpener({ host: '127.0.0.1', tcpPort }, clock)({ received: () => undefined, lost: resolve }).then(async (wire) => {
        toClose.push(() => wire.close());
        await wire.write(Buffer.from('?ID\r'));
        await clock.sleep(50);
        expect(wire.isOpen).toBe(false);
        await expect(wire.write(Buffer.from('?ID\r'))).rejects.toMatchObject({ code: 'disconnected' });
      }, reject);
    });
    expect(lost).toMatchObject({ code: 'disconnected', details: { line: `127.0.0.1:${tcpPort}` } });
  });

  it('whose other end takes nothing ends with `timeout` instead of hanging', async () => {
    const { tcpPort } = await listening((socket) => {
      socket.pause();
      toClose.push(() => socket.destroy());
    });
    const wire = await tcpOpener({ host: '127.0.0.1', tcpPort, writeWithinMs: 100 }, clock)(deaf);
    const sendAll = async () => {
      for (let i = 0; i < 64; i++) await wire.write(new Uint8Array(1 << 20));
    };
    await expect(sendAll()).rejects.toMatchObject({ code: 'timeout' });
    expect(wire.isOpen).toBe(false);
  });

  it('is opened anew after the device hung up', async () => {
    const fake = new MarrowbeckLt4(clock);
    const served = await serveOverTcp(fake);
    toClose.push(() => served.close());
    const device = await openDescribed(devicePlan('marrowbeck-lt4'), { openWire: tcpOpener({ host: '127.0.0.1', tcpPort: served.tcpPort }, clock), clock });
    toClose.push(() => device.close());
    const lamp = must(device.parts.lamp);
    await lamp.setIntensity(0.25);
    fake.hangUp();
    await clock.sleep(20);
    expect(await lamp.intensity()).toBe(0.25);
    expect(fake.commands.filter((command) => command === 'ID')).toHaveLength(2);
  });
});

describe('a described device on a serial port', () => {
  it('moves, lights nothing, and is gone when it is unplugged', async () => {
    const fake = new QuillfenQf200(clock);
    let served;
    try {
      served = serveOnPty(fake);
    } catch (error) {
      process.stdout.write(`No pseudo-terminal here, so no serial port is tried: ${String(error)}\n`);
      return;
    }
    const { port, close } = served;
    toClose.push(close);
    const device = await openDescribed(devicePlan('quillfen-qf200'), { openWire: serialOpener({ port, baudRate: 115_200 }, clock), clock });
    toClose.push(() => device.close().catch(() => undefined));
    const stage = must(device.parts.stage);
    expect(await stage.moveTo({ xUm: 9000, yUm: 6500 })).toEqual({ xUm: 9000, yUm: 6500 });
    close();
    await expect(stage.position()).rejects.toMatchObject({ code: expect.stringMatching(/^(disconnected|noSuchLine|timeout)$/) as unknown });
  });
});
