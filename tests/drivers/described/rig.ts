import { readFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import { parseDescription } from '../../../daemon/describe/readDescription.ts';
import { openDescribed, type DescribedDevice, type DevicePlan, type Spoken } from '../../../drivers/described/index.ts';
import { DriverError, type Clock } from '../../../drivers/interfaces/index.ts';
import type { OpenWire } from '../../../drivers/line/wire.ts';
import type { FarEnd } from '../../../simulators/farEnd/described/asciiFarEnd.ts';

export type DeviceFile = 'quillfen-qf200' | 'marrowbeck-lt4' | 'dunlin-dh12-scpi';

export function deviceText(name: DeviceFile): string {
  return readFileSync(fileURLToPath(new URL(`../../../daemon/demo/devices/${name}.yaml`, import.meta.url)), 'utf8');
}

/** The plan of a shipped description, with a piece of its text replaced. */
export function devicePlan(name: DeviceFile, changes: Readonly<Record<string, string>> = {}): DevicePlan {
  let text = deviceText(name);
  for (const [from, to] of Object.entries(changes)) {
    if (!text.includes(from)) throw new Error(`no ${from} in ${name}`);
    text = text.replace(from, to);
  }
  return parseDescription({ text, file: `${name}.yaml` }).plan;
}

/** A line without an operating system: what one side sends, the other has a turn of the event loop later. */
export function memoryLine(farEnd: FarEnd, chunk = 7): OpenWire {
  return async (listener) => {
    const state = { isOpen: true };
    const lose = (): void => {
      if (!state.isOpen) return;
      state.isOpen = false;
      ear.gone();
      listener.lost(new DriverError('disconnected', { line: 'memory' }));
    };
    const ear = farEnd.connected({
      send: (bytes) => {
        for (let at = 0; at < bytes.length && state.isOpen; at += chunk) listener.received(bytes.slice(at, at + chunk));
      },
      hangUp: lose,
    });
    return {
      name: 'memory',
      get isOpen() {
        return state.isOpen;
      },
      async write(bytes) {
        if (!state.isOpen) throw new DriverError('disconnected', { line: 'memory' });
        ear.received(bytes);
      },
      async close() {
        state.isOpen = false;
        ear.gone();
      },
    };
  };
}

export interface OpenedOverMemory {
  readonly device: DescribedDevice;
  readonly said: Spoken[];
}

export async function openOverMemory(plan: DevicePlan, farEnd: FarEnd, clock: Clock): Promise<OpenedOverMemory> {
  const said: Spoken[] = [];
  const device = await openDescribed(plan, { openWire: memoryLine(farEnd), clock, listen: (spoken) => said.push(spoken) });
  return { device, said };
}

/** The value, or an error that names what is missing. */
export function must<T>(value: T | undefined, what = 'part'): T {
  if (value === undefined) throw new Error(`no ${what}`);
  return value;
}
