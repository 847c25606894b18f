import { DriverError, type FocusDrive, type Stage } from '../interfaces/index.ts';
import { REAL_TIME } from './commands.ts';
import type { GcodeCounters } from './counters.ts';
import { home, takeReference } from './homing.ts';
import { Motor } from './motor.ts';
import type { GcodeOptions } from './options.ts';
import { Session } from './session.ts';
import { Turn } from './turn.ts';

/** One motion controller on one line, and what it moves. */
export interface GcodeController {
  readonly stage?: Stage;
  readonly focus?: FocusDrive;
  readonly counters: GcodeCounters;
  /** Homes all axes that the controller homes. For a focus drive alone this is the only way. See {@link Stage.home}. */
  home(signal?: AbortSignal): Promise<void>;
  /** A person says: it stands at the reference place now. For controllers without homing switches. Rejects with `alarm` while a limit switch is touched. */
  takeReference(): Promise<void>;
  /** Holds all motion. A move under way ends as `stalled`: the firmware ends a jog that is held. A convenience, not a safety device. */
  hold(): Promise<void>;
  /** Lets go of what was held at the controller. */
  resume(): Promise<void>;
  close(): Promise<void>;
}

function asStage(motor: Motor, { stage }: GcodeOptions): Stage | undefined {
  if (!stage) return undefined;
  const point = ([xUm = Number.NaN, yUm = Number.NaN]: readonly number[]) => ({ xUm, yUm });
  return {
    travel: { xMinUm: stage.x.minUm, xMaxUm: stage.x.maxUm, yMinUm: stage.y.minUm, yMaxUm: stage.y.maxUm },
    position: async () => point(await motor.position()),
    state: () => motor.state(),
    moveTo: async ({ xUm, yUm }, options = {}) => point(await motor.moveTo([xUm, yUm], options)),
    home: (signal) => motor.home(signal),
    stop: () => motor.stop(),
    close: () => motor.close(),
  };
}

function asFocus(motor: Motor, { focus }: GcodeOptions): FocusDrive | undefined {
  if (!focus) return undefined;
  const height = ([zUm = Number.NaN]: readonly number[]) => zUm;
  return {
    zMinUm: focus.minUm,
    zMaxUm: focus.maxUm,
    position: async () => height(await motor.position()),
    moveTo: async (zUm, options = {}) => height(await motor.moveTo([zUm], options)),
    stop: () => motor.stop(),
    close: () => motor.close(),
  };
}

/** The line is closed when the last device on it is. */
function closingTogether<T extends { close(): Promise<void> }>(device: T, last: () => Promise<void>): T {
  return { ...device, close: () => device.close().then(last) };
}

/**
 * Opens a motion controller that speaks the dialect of the open-source firmware grbl 1.1, as far as its published documentation is remembered, and holds
 * its settings against the options. One controller serves a stage (x, y), a focus drive, or both; it does one motion at a time, and a second one waits
 * up to 8 s for the first. Positions are those of whole motor steps. No backlash is made up for here.
 *
 * Where the position is not known for sure (after power, a restart, an alarm, an unplugging that it did not outlive unmoved), moves are refused with
 * `positionLost` until it is homed. With `reference: 'byHand'` nothing but `takeReference` makes it known, since only a person can see where the stage stands;
 * `home` then goes back to that place.
 *
 * A line that was lost is opened anew, by its stable name, with the next call. Rejects with `noSuchLine`, `lineBusy`, `noAccess`, `noAnswer`, `garbled`,
 * `wrongDevice`, `settingsDiffer`, `deviceError` or `timeout`.
 *
 * CAUTION: this moves motors. A stop by software is no safety device: have a switch that takes their power.
 */
export async function openGcodeController(options: GcodeOptions): Promise<GcodeController> {
  const session = new Session(options);
  const turn = new Turn(options.clock);
  await session.ready().catch(async (error: unknown) => {
    await session.close();
    throw error;
  });
  const stageMotor = new Motor('stage', options.stage ? [options.stage.x, options.stage.y] : [], session, turn);
  const focusMotor = new Motor('focus', options.focus ? [options.focus] : [], session, turn);
  const open = new Set<unknown>([...(options.stage ? [stageMotor] : []), ...(options.focus ? [focusMotor] : [])]);
  const leave = (motor: Motor) => async () => {
    open.delete(motor);
    if (open.size === 0) await session.close();
  };
  const alone = async <T>(signal: AbortSignal, act: () => Promise<T>): Promise<T> => {
    if (turn.isTaken) throw new DriverError('unsupported', { ...session.about, what: 'this while something moves' });
    const giveBack = await turn.take(0, signal);
    return act().finally(giveBack);
  };
  const stage = asStage(stageMotor, options);
  const focus = asFocus(focusMotor, options);
  const never = new AbortController().signal;
  return {
    ...(stage ? { stage: closingTogether(stage, leave(stageMotor)) } : {}),
    ...(focus ? { focus: closingTogether(focus, leave(focusMotor)) } : {}),
    counters: session.tally,
    async home(signal = never) {
      if (options.reference === 'byHand') throw new DriverError('unsupported', { ...session.about, what: 'homing without switches' });
      await alone(signal, async () => home(session, await session.ready(), signal));
    },
    takeReference: () => alone(never, async () => takeReference(session, await session.ready())),
    hold: async () => (await session.ready()).realTime(REAL_TIME.hold),
    resume: async () => (await session.ready()).realTime(REAL_TIME.resume),
    async close() {
      await Promise.all([stageMotor.close(), focusMotor.close()]);
      await session.close();
    },
  };
}
