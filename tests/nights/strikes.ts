import type { WriteBytes } from '../../daemon/records/writeDurably.ts';
import { fillDisk } from '../../daemon/records/writeDurably.ts';
import type { DeviceName, FaultName, Faults } from '../../simulators/index.ts';
import { hasCode } from '../../daemon/errors/index.ts';
import { DriverError } from '../../drivers/interfaces/index.ts';
import type { TroubledPool } from '../support/troubledPool.ts';
import type { Strike } from './faultScript.ts';

/** What a strike can take hold of. */
export interface Struck {
  readonly faults: Faults;
  readonly pool: TroubledPool;
  readonly disk: Disk;
  readonly person: { pause(): Promise<void>; goOn(): Promise<void>; stop(): Promise<void> };
}

/** A disk that can fill up. */
export class Disk {
  #write: WriteBytes | undefined;
  refused = 0;

  readonly write: WriteBytes = async (file, bytes) => {
    if (!this.#write) return file.writeFile(bytes);
    await this.#write(file, bytes).catch((error: unknown) => {
      this.refused++;
      throw error;
    });
  };

  fill(roomBytes: number): void {
    this.#write = fillDisk(roomBytes);
  }
}

/** A night that has ended meanwhile says so; nothing is wrong with that. */
async function wish(asked: Promise<void>): Promise<void> {
  await asked.catch((error: unknown) => {
    if (!hasCode(error, 'notInThisState')) throw error;
  });
}

/** So often somebody who is told that a device did not answer asks to go on. */
const WISHES = 3;

/** Goes on after a pause, or stops where that cannot be: whoever is told that a device has gone does not leave the night paused. */
async function goOn(person: Struck['person']): Promise<void> {
  for (let wished = 1; wished <= WISHES; wished++) {
    try {
      return await wish(person.goOn());
    } catch (error) {
      if (!(error instanceof DriverError)) throw error;
    }
  }
  await stop(person);
}

/** Halting asks the devices, which may have faults of their own: whoever stops is told. */
async function stop(person: Struck['person']): Promise<void> {
  await person.stop().catch(() => undefined);
}

/** Lets it happen; returns what mends it again. What ends the process is not for here. */
export async function strike({ kind, times, amount = 0 }: Strike, { faults, pool, disk, person }: Struck): Promise<() => Promise<void>> {
  const nothing = async (): Promise<void> => undefined;
  switch (kind) {
    case 'pause':
      await wish(person.pause());
      return () => goOn(person);
    case 'stop':
      await stop(person);
      return nothing;
    case 'fillDisk':
      disk.fill(amount);
      return nothing;
    case 'crashWorker':
      pool.crash(times);
      return nothing;
    case 'loseWorkers':
      pool.loseWorkers();
      return nothing;
    case 'fillDatabase':
    case 'kill':
    case 'powerCut':
      return nothing;
    case 'jumpFocus':
      faults.jumpFocus(amount);
      return nothing;
    case 'driftFocus':
      faults.driftFocus(amount);
      return async () => faults.driftFocus(0);
    case 'jumpClock':
      faults.jumpClock(amount);
      return nothing;
    default: {
      const name: FaultName = kind satisfies FaultName | `${string}:${DeviceName}`;
      faults.switchOn(name, times, amount);
      return async () => faults.switchOff(name);
    }
  }
}
