import { chmodSync, mkdirSync, mkdtempSync, rmSync, symlinkSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterEach, describe, expect, it } from 'vitest';
import { createSystemClock } from '../../../drivers/clock/systemClock.ts';
import type { DriverError } from '../../../drivers/interfaces/index.ts';
import { listSerialPorts } from '../../../drivers/line/ports.ts';
import { serialOpener, type SerialLine } from '../../../drivers/line/serialWire.ts';
import type { Wire } from '../../../drivers/line/wire.ts';
import { openPty } from '../../../simulators/farEnd/pty.ts';

const clock = createSystemClock();
const ends: (() => Promise<void> | void)[] = [];
afterEach(async () => {
  for (const end of ends.splice(0).reverse()) await end();
});

function farEnd() {
  const far = openPty();
  ends.push(() => far.close());
  const heard: number[] = [];
  far.onBytes((bytes) => heard.push(...bytes));
  return { far, heard };
}

function folder(): string {
  const path = mkdtempSync(join(tmpdir(), 'nightjar-ports-'));
  ends.push(() => rmSync(path, { recursive: true }));
  return path;
}

/** Opens a wire and notes what it tells. */
async function opened(port: string, more: Partial<SerialLine> = {}) {
  const received: number[] = [];
  const lost: DriverError[] = [];
  const open = serialOpener({ port, baudRate: 115_200, ...more }, clock);
  const wire = await open({ received: (bytes) => received.push(...bytes), lost: (error) => lost.push(error) });
  ends.push(() => wire.close());
  return { wire, received, lost };
}

async function until(holds: () => boolean): Promise<void> {
  for (let i = 0; i < 400 && !holds(); i++) await clock.sleep(5);
  expect(holds()).toBe(true);
}

const bytes = (text: string) => Buffer.from(text, 'latin1');
const text = (values: readonly number[]) => String.fromCharCode(...values);

describe('a serial wire', () => {
  it('carries bytes both ways, and throws away what waited before', async () => {
    const { far, heard } = farEnd();
    far.write(bytes('old'));
    await clock.sleep(20);
    const { wire, received } = await opened(far.path);
    expect(wire.name).toBe(`${far.path} at 115200 baud`);
    await wire.write(bytes('there\u0085'));
    far.write(bytes('back\u00ff'));
    await until(() => heard.length >= 6 && received.length >= 5);
    expect([text(heard), text(received)]).toEqual(['there\u0085', 'back\u00ff']);
  });

  it('says once that it is lost, also when nothing is sent, and refuses to write then', async () => {
    const { far } = farEnd();
    const { wire, lost } = await opened(far.path);
    await clock.sleep(20);
    far.close();
    await until(() => lost.length > 0);
    await expect(wire.write(bytes('x'))).rejects.toMatchObject({ code: 'disconnected', details: { line: far.path, baudRate: 115_200 } });
    await clock.sleep(300);
    expect(lost).toHaveLength(1);
    expect(wire.isOpen).toBe(false);
  });

  it('finds out by the next write where it was not told', async () => {
    const { far } = farEnd();
    const { wire, lost } = await opened(far.path);
    far.close();
    await expect(wire.write(bytes('x'))).rejects.toMatchObject({ code: 'disconnected' });
    await until(() => lost.length > 0);
    await clock.sleep(50);
    expect(lost).toHaveLength(1);
  });

  it('that is closed by its owner is not lost, and is free for others', async () => {
    const { far } = farEnd();
    const { wire, lost } = await opened(far.path);
    await Promise.all([wire.close(), wire.close()]);
    await wire.close();
    const again = await opened(far.path);
    await again.wire.write(bytes('x'));
    far.close();
    await until(() => again.lost.length === 1);
    expect(lost).toEqual([]);
  });

  it('does not wait for ever for an end that takes nothing', async () => {
    // The far end's process is this one, so that it takes nothing while a large write is going on; its buffer holds some kB.
    const { far } = farEnd();
    const { wire } = await opened(far.path, { writeWithinMs: 1 });
    const end = await wire.write(new Uint8Array(4_000_000)).catch((error: unknown) => error);
    expect(end).toMatchObject({ code: 'timeout' });
    expect(wire.isOpen).toBe(false);
  });
});

describe('a serial port that cannot be opened', () => {
  const refused = (port: string, more: Partial<SerialLine> = {}) => opened(port, more).then(({ wire }: { readonly wire: Wire }) => wire, (error: unknown) => error);

  it('is not there: the ports that are get named', async () => {
    const place = folder();
    mkdirSync(join(place, 'by-id'));
    symlinkSync('/dev/null', join(place, 'by-id', 'usb-Invented_Board_7'));
    const folders = { byId: join(place, 'by-id'), devices: join(place, 'none') };
    expect(await refused('/dev/serial/by-id/usb-Other', { folders })).toMatchObject({ code: 'noSuchLine', details: { line: '/dev/serial/by-id/usb-Other', known: join(place, 'by-id', 'usb-Invented_Board_7') } });
  });

  it('is no serial port', async () => {
    const file = join(folder(), 'file');
    writeFileSync(file, '');
    expect(await refused(file)).toMatchObject({ code: 'noSuchLine', details: { reason: 'it is no serial port' } });
    expect(await refused('/dev/null')).toMatchObject({ code: 'noSuchLine', details: { reason: 'it is no serial port' } });
  });

  it('is held by another program', async () => {
    const { far } = farEnd();
    await opened(far.path);
    expect(await refused(far.path)).toMatchObject({ code: 'lineBusy', details: { line: far.path } });
  });

  it('is not for this user: its group is named', async () => {
    const { far } = farEnd();
    chmodSync(far.path, 0);
    // The superuser may open everything: for once, be nobody.
    const isRoot = process.geteuid?.() === 0;
    if (isRoot) process.seteuid?.(65_534);
    const error = await refused(far.path);
    if (isRoot) process.seteuid?.(0);
    expect(error).toMatchObject({ code: 'noAccess', details: { line: far.path, group: expect.stringMatching(/./) } });
  });
});

describe('the list of ports', () => {
  it('has stable names first, devices without one by their own, and nothing else', async () => {
    const place = folder();
    for (const name of ['by-id', 'dev']) mkdirSync(join(place, name));
    for (const name of ['ttyUSB0', 'ttyUSB1', 'ttyACM0', 'ttyS0', 'tty', 'ttyUSBx']) writeFileSync(join(place, 'dev', name), '');
    symlinkSync(join(place, 'dev', 'ttyUSB1'), join(place, 'by-id', 'usb-Invented_Board_7-if00'));
    symlinkSync(join(place, 'dev', 'ttyUSB9'), join(place, 'by-id', 'usb-Just_Gone-if00'));
    const ports = await listSerialPorts({ byId: join(place, 'by-id'), devices: join(place, 'dev') });
    expect(ports).toEqual([
      { name: join(place, 'by-id', 'usb-Invented_Board_7-if00'), device: join(place, 'dev', 'ttyUSB1'), isStable: true },
      { name: join(place, 'dev', 'ttyACM0'), device: join(place, 'dev', 'ttyACM0'), isStable: false },
      { name: join(place, 'dev', 'ttyUSB0'), device: join(place, 'dev', 'ttyUSB0'), isStable: false },
    ]);
  });

  it('is empty where there are none', async () => {
    expect(await listSerialPorts({ byId: '/nowhere', devices: '/nowhere' })).toEqual([]);
  });
});
