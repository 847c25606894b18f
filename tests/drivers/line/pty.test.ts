import { existsSync } from 'node:fs';
import { SerialPort } from 'serialport';
import { afterEach, describe, expect, it } from 'vitest';
import { openPty, type FarEndOfLine } from '../../../simulators/farEnd/pty.ts';

const ends: (() => void)[] = [];
afterEach(() => {
  for (const end of ends.splice(0)) end();
});

function pty(): FarEndOfLine {
  const far = openPty();
  ends.push(() => far.close());
  return far;
}

async function opened(path: string): Promise<SerialPort> {
  const port = new SerialPort({ path, baudRate: 115_200, autoOpen: false });
  await new Promise<void>((resolve, reject) => {
    port.open((error) => (error ? reject(error) : resolve()));
  });
  ends.unshift(() => {
    if (port.isOpen) port.close();
  });
  return port;
}

const heardBy = (listen: (listener: (bytes: Uint8Array) => void) => void, count: number) =>
  new Promise<number[]>((resolve) => {
    const heard: number[] = [];
    listen((bytes) => {
      heard.push(...bytes);
      if (heard.length >= count) resolve(heard);
    });
  });

const everyByte = Uint8Array.from({ length: 256 }, (_, value) => value);

describe('a pseudo-terminal as a serial line', () => {
  it('carries every byte unchanged both ways, also after it was closed and opened again', async () => {
    const far = pty();
    for (let time = 0; time < 2; time++) {
      const port = await opened(far.path);
      const atFarEnd = heardBy((listener) => far.onBytes(listener), 256);
      const atNearEnd = heardBy((listener) => port.on('data', listener), 256);
      port.write(everyByte);
      far.write(everyByte);
      expect(await atFarEnd).toEqual([...everyByte]);
      expect(await atNearEnd).toEqual([...everyByte]);
      await new Promise<void>((resolve) => {
        port.close(() => resolve());
      });
    }
  });

  it('is gone when hung up, and the driver hears of it with its next write', async () => {
    const far = pty();
    const port = await opened(far.path);
    const closed = new Promise<void>((resolve) => {
      port.once('close', () => resolve());
    });
    port.on('error', () => undefined);
    far.close();
    far.close();
    port.write(everyByte);
    await closed;
    expect(existsSync(far.path)).toBe(false);
    far.write(everyByte);
  });

  it('loses what nobody fetches, and never blocks', () => {
    const far = pty();
    for (let i = 0; i < 100; i++) far.write(new Uint8Array(4096));
    expect(existsSync(far.path)).toBe(true);
  });
});
