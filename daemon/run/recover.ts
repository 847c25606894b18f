import { DriverError } from '../../drivers/interfaces/index.ts';
import type { NightContext } from './context.ts';
import { isWorthAnotherStart, policyFor } from './policies.ts';
import { configureCamera } from './prepare.ts';
import { isHeightLost, reference } from './reference.ts';

/** First wait before a tile is tried again; doubled for each further try. */
const firstBackoffMs = 500;
/** A device that has gone may take so long to come back: a camera that starts anew, a plug that somebody puts in again. */
export const patienceForReturnMs = 10 * 60_000;
const lookEveryMs = 1000;

/** How often a person's wish to go on is tried before the night stays paused. */
const triesToTakeBack = 3;

/** How long is waited after so many tries. */
const backoffMs = (attempt: number): number => firstBackoffMs * 2 ** (attempt - 1);

/** What became of a recovery. */
export interface Recovered {
  /** The axes were homed: heights measured before may be off by what homing repeats to. */
  readonly isReferencedAnew: boolean;
}

const asBefore: Recovered = { isReferencedAnew: false };

/**
 * What is done before a tile is tried again: wait, then whatever the policy has for the trouble. Rejects when it cannot be mended.
 * @param looked told of each look for a device that has gone
 */
export async function recover(context: NightContext, code: string, attempt: number, looked: () => void, signal: AbortSignal): Promise<Recovered> {
  const { instrument } = context;
  await instrument.clock.sleep(backoffMs(attempt), signal);
  const policy = policyFor(code);
  switch (policy.act === 'retry' ? policy.mend : 'wait') {
    case 'reference':
      return { isReferencedAnew: await reference(instrument, context.travel.safeHeightUm, signal) };
    case 'setLight':
      await setCamera(context);
      await setLamp(context, signal);
      return asBefore;
    case 'awaitReturn':
      await untilBack(context, looked, signal);
      return makeReadyAgain(context, signal);
    case 'wait':
      return asBefore;
  }
}

/**
 * Light and camera as the night has them, before it goes on after a pause. Every trouble is told; what passes by itself is tried again. The
 * last trouble is thrown: who asked to go on may ask once more.
 */
export async function takeBack(context: NightContext, tell: (error: unknown) => void): Promise<void> {
  const { lamp, clock } = context.instrument;
  for (let attempt = 1; ; attempt++) {
    try {
      await lamp.setIntensity(context.path.lampIntensity);
      return await setCamera(context);
    } catch (error) {
      tell(error);
      if (attempt >= triesToTakeBack || !(error instanceof DriverError) || !isWorthAnotherStart(error.code)) throw error;
    }
    await clock.sleep(backoffMs(attempt));
  }
}

async function setCamera({ instrument, path }: NightContext): Promise<void> {
  await configureCamera(instrument.camera, { exposureMs: path.exposureMs, gainDb: path.gainDb });
}

/** Whoever was stopped, or given up by the watchdog, must not switch the light on again. */
async function setLamp({ instrument, path }: NightContext, signal: AbortSignal): Promise<void> {
  signal.throwIfAborted();
  await instrument.lamp.setIntensity(path.lampIntensity);
}

/** Asks every device until all answer. Drivers open their line anew when they are asked. Rejects with the last trouble when patience ends. */
async function untilBack(context: NightContext, looked: () => void, signal: AbortSignal): Promise<void> {
  const { clock } = context.instrument;
  const endMs = clock.now() + patienceForReturnMs;
  for (;;) {
    looked();
    try {
      return await askAll(context);
    } catch (error) {
      if (signal.aborted || clock.now() >= endMs) throw error;
    }
    await clock.sleep(lookEveryMs, signal);
  }
}

async function askAll(context: NightContext): Promise<void> {
  const { stage, lamp, turret } = context.instrument;
  const state = await stage.state();
  if (state === 'closed') throw new DriverError('disconnected', { device: 'stage' });
  // What has lost its position will not tell it; that it answers is enough.
  if (state !== 'positionLost' && state !== 'alarm') await stage.position();
  await isHeightLost(context.instrument);
  await turret.position();
  await lamp.intensity();
  await setCamera(context);
}

/** A device that was away may have forgotten all that it was told: objective up, axes referenced, turret, light and camera as the night has them. */
async function makeReadyAgain(context: NightContext, signal: AbortSignal): Promise<Recovered> {
  const { instrument, path, travel } = context;
  const isReferencedAnew = await reference(instrument, travel.safeHeightUm, signal);
  if ((await instrument.turret.position()) !== path.turretPosition) await instrument.turret.moveTo(path.turretPosition);
  await setLamp(context, signal);
  await instrument.fieldStop?.setOpening(1);
  return { isReferencedAnew };
}
