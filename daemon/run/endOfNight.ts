import { DriverError } from '../../drivers/interfaces/index.ts';
import { raise } from './approach.ts';
import type { NightContext } from './context.ts';

const TRIES = 3;
const TRY_AGAIN_MS = 1000;

/** Devices by name; both empty when all is well. */
export interface Safety {
  readonly unsafe: readonly string[];
  /** Made safe at a later try. */
  readonly late: readonly string[];
}

/** Makes the instrument safe after trouble or a stop: motion halted, objective up, lamp off. Each is tried whatever became of the others. */
export async function park(context: NightContext): Promise<Safety> {
  const { instrument } = context;
  return attempt(context, [
    ['stage', () => instrument.stage.stop()],
    ['focus', () => raiseAfterStop(context)],
    ['lamp', () => lampOff(context)],
  ]);
}

/** Rejects with `unsupported` where only a person can switch it: it is still on. */
async function lampOff({ instrument: { lamp } }: NightContext): Promise<void> {
  await lamp.setIntensity(0);
  if (lamp.isByHand) throw new DriverError('unsupported', { device: 'lamp', what: 'switching it off: it is switched by hand' });
}

/** A second Stop halts the objective on its way up; up is where it is safe, so that it goes on from there. */
async function raiseAfterStop({ instrument, travel }: NightContext): Promise<void> {
  try {
    await raise(instrument, travel.safeHeightUm);
  } catch (error) {
    if (!(error instanceof DriverError) || error.code !== 'stopped') throw error;
    await raise(instrument, travel.safeHeightUm);
  }
}

/** What the run sheet wants at the end of a night that went well. */
export async function finish(context: NightContext): Promise<Safety> {
  const { instrument, sheet, travel } = context;
  return attempt(context, [
    ...(sheet.atTheEnd.raiseObjective ? [['focus', () => raise(instrument, travel.safeHeightUm)] as const] : []),
    ...(sheet.atTheEnd.lamp === 'off' ? [['lamp', () => lampOff(context)] as const] : []),
  ]);
}

async function attempt(context: NightContext, steps: readonly (readonly [string, () => Promise<void>])[]): Promise<Safety> {
  const [unsafe, late]: [string[], string[]] = [[], []];
  for (const [device, make] of steps) {
    const tries = await triesOf(context, device, make);
    if (tries === undefined) unsafe.push(device);
    else if (tries > 1) late.push(device);
  }
  return { unsafe, late };
}

/** One garbled answer must not leave the lamp on until the morning: each step is tried a few times. Undefined when none went well. */
async function triesOf({ instrument, log }: NightContext, device: string, make: () => Promise<void>): Promise<number | undefined> {
  for (let tries = 1; ; tries++) {
    try {
      await make();
      return tries;
    } catch (error) {
      log.error({ err: error, device, tries }, 'could not be made safe');
      if (tries === TRIES || (error instanceof DriverError && error.code === 'unsupported')) return undefined;
    }
    await instrument.clock.sleep(TRY_AGAIN_MS);
  }
}
