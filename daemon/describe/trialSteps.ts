import type { DescribedParts } from '../../drivers/described/index.ts';
import { DriverError, type Clock, type FocusDrive, type Lamp, type Stage, type Turret } from '../../drivers/interfaces/index.ts';
import { figure } from '../errors/words.ts';

/** One thing to try. */
export interface TrialStep {
  readonly what: string;
  /** Asked first, where something moves or lights up. */
  readonly question?: string;
  /** Resolves with what was found, or with why there was nothing to try. */
  run(): Promise<Found>;
}

export type Found = string | { readonly untried: string };

export interface TrialBench {
  readonly clock: Clock;
  readonly signal: AbortSignal;
}

const STAGE_WAY_UM = 200;
const FOCUS_WAY_UM = 20;
const SLOW_UM_PER_S = 400;
const STOP_AFTER_MS = 150;
const LAMP_SHARE = 0.05;
const LIT_MS = 1000;

const um = (value: number): string => `${figure(value, 2)} µm`;

function pointText({ xUm, yUm }: { readonly xUm: number; readonly yUm: number }): string {
  return `x ${um(xUm)}, y ${um(yUm)}`;
}

/** Towards the middle, so that a device at its end does not run into it. */
function towardsMiddle(at: number, min: number, max: number, way: number): number {
  return at + Math.min(way, (max - min) / 4) * (at < (min + max) / 2 ? 1 : -1);
}

/** A speed that a device cannot be set to is not asked for a second time. */
async function slowlyIfItCan<T>(move: (options: { readonly speedUmPerS?: number }) => Promise<T>): Promise<T> {
  try {
    return await move({ speedUmPerS: SLOW_UM_PER_S });
  } catch (error) {
    if (error instanceof DriverError && error.code === 'unsupported') return move({});
    throw error;
  }
}

async function stageThereAndBack(stage: Stage, signal: AbortSignal): Promise<string> {
  const from = await stage.position();
  const { xMinUm, xMaxUm, yMinUm, yMaxUm } = stage.travel;
  const target = { xUm: towardsMiddle(from.xUm, xMinUm, xMaxUm, STAGE_WAY_UM), yUm: towardsMiddle(from.yUm, yMinUm, yMaxUm, STAGE_WAY_UM) };
  const there = await slowlyIfItCan((options) => stage.moveTo(target, { ...options, signal }));
  const back = await slowlyIfItCan((options) => stage.moveTo(from, { ...options, signal }));
  return `it was at ${pointText(from)}, went to ${pointText(there)} and back to ${pointText(back)}`;
}

/** Starts a move and stops it; resolves with how far it came. Anything but `stopped` is a failure. */
async function stopped(move: Promise<unknown>, halt: () => Promise<void>, clock: Clock): Promise<void> {
  const ended = move.then(
    () => new DriverError('stopped', { what: 'the move was over before the stop: nothing was learned' }),
    (error: unknown) => (error instanceof DriverError && error.code === 'stopped' ? undefined : error),
  );
  await clock.sleep(STOP_AFTER_MS);
  await halt();
  const failure = await ended;
  if (failure !== undefined) throw failure as Error;
}

async function stageStops(stage: Stage, { clock, signal }: TrialBench): Promise<string> {
  const from = await stage.position();
  const { xMinUm, xMaxUm } = stage.travel;
  const target = { xUm: towardsMiddle(from.xUm, xMinUm, xMaxUm, 5 * STAGE_WAY_UM), yUm: from.yUm };
  await stopped(stage.moveTo(target, { speedUmPerS: SLOW_UM_PER_S, signal }), () => stage.stop(), clock);
  const at = await stage.position();
  await stage.moveTo(from, { speedUmPerS: SLOW_UM_PER_S, signal });
  return `of ${um(Math.abs(target.xUm - from.xUm))} it had gone ${um(Math.abs(at.xUm - from.xUm))}`;
}

export function stageSteps(stage: Stage, bench: TrialBench): TrialStep[] {
  return [
    { what: 'stage: where it is', run: async () => pointText(await stage.position()) },
    { what: 'stage: its state', run: () => stage.state() },
    { what: 'stage: there and back', question: `Move the stage by ${STAGE_WAY_UM} µm on x and y, towards the middle, and back?`, run: () => stageThereAndBack(stage, bench.signal) },
    { what: 'stage: stop', question: `Set the stage going along x and stop it after ${STOP_AFTER_MS} ms?`, run: () => stageStops(stage, bench) },
    {
      what: 'stage: homing',
      question: 'Home the stage? It may travel all the way to its ends: the objective must be up, and nothing in its way.',
      run: async () => {
        await stage.home(bench.signal);
        return `afterwards it is at ${pointText(await stage.position())}`;
      },
    },
  ];
}

/** Upwards first, away from the chip; at its upper end there is nothing to try. */
async function focusUpAndBack(focus: FocusDrive, signal: AbortSignal): Promise<Found> {
  const from = await focus.position();
  const target = Math.min(focus.zMaxUm, from + FOCUS_WAY_UM);
  if (target - from < FOCUS_WAY_UM / 4) return { untried: 'it stands at its upper end; lower it first, by hand' };
  const there = await slowlyIfItCan((options) => focus.moveTo(target, { ...options, signal }));
  const back = await slowlyIfItCan((options) => focus.moveTo(from, { ...options, signal }));
  return `it was at ${um(from)}, went up to ${um(there)} and back to ${um(back)}`;
}

function focusHoming(focus: FocusDrive, signal: AbortSignal): TrialStep[] {
  if (!focus.home) return [];
  return [
    {
      what: 'focus drive: homing',
      question: 'Home the focus drive? It goes up to its switch: see that nothing is above the objective.',
      run: async () => {
        await focus.home?.(signal);
        return `afterwards it is at ${um(await focus.position())}`;
      },
    },
  ];
}

export function focusSteps(focus: FocusDrive, { signal }: TrialBench): TrialStep[] {
  return [
    { what: 'focus drive: where it is', run: async () => um(await focus.position()) },
    { what: 'focus drive: up and back', question: `Raise the objective by ${FOCUS_WAY_UM} µm and lower it again?`, run: () => focusUpAndBack(focus, signal) },
    ...focusHoming(focus, signal),
  ];
}

export function turretSteps(name: string, turret: Turret, caution: string): TrialStep[] {
  return [
    { what: `${name}: where it is`, run: async () => `position ${await turret.position()} of 0 to ${turret.positions - 1}` },
    {
      what: `${name}: to the next place and back`,
      question: `Turn the ${name} to its next place and back?${caution}`,
      run: async () => {
        const from = await turret.position();
        await turret.moveTo((from + 1) % turret.positions);
        const there = await turret.position();
        await turret.moveTo(from);
        return `it was at ${from}, went to ${there} and back to ${await turret.position()}`;
      },
    },
  ];
}

async function readBack(lamp: Lamp): Promise<string> {
  return `${figure(100 * (await lamp.intensity()), 1)} %`;
}

export function lampSteps(lamp: Lamp, { clock, signal }: TrialBench): TrialStep[] {
  return [
    { what: 'lamp: how bright it is', run: () => readBack(lamp) },
    {
      what: 'lamp: on and off',
      question: `Light the lamp at ${100 * LAMP_SHARE} % for a second? Afterwards it is off.`,
      run: async () => {
        try {
          await lamp.setIntensity(LAMP_SHARE);
          const lit = await readBack(lamp);
          await clock.sleep(LIT_MS, signal);
          return `lit it said ${lit}`;
        } finally {
          await lamp.setIntensity(0);
        }
      },
    },
  ];
}

export function shutterSteps(shutter: Lamp): TrialStep[] {
  const state = async (): Promise<string> => ((await shutter.intensity()) === 1 ? 'open' : 'shut');
  return [
    { what: 'shutter: open or shut', run: state },
    {
      what: 'shutter: open and shut',
      question: 'Open the shutter and shut it? Light may come out.',
      run: async () => {
        try {
          await shutter.setIntensity(1);
          return `it said ${await state()}`;
        } finally {
          await shutter.setIntensity(0);
        }
      },
    },
  ];
}

/** Everything that can be tried with these parts, the harmless first within each part. */
export function trialSteps(parts: DescribedParts, bench: TrialBench): TrialStep[] {
  const { stage, focus, turret, filterWheel, lamp, shutter, fieldStop } = parts;
  return [
    ...(stage ? stageSteps(stage, bench) : []),
    ...(focus ? focusSteps(focus, bench) : []),
    ...(turret ? turretSteps('turret', turret, ' Raise the objective first: one that turns low can touch chip and holder.') : []),
    ...(filterWheel ? turretSteps('filter wheel', filterWheel, '') : []),
    ...(lamp ? lampSteps(lamp, bench) : []),
    ...(shutter ? shutterSteps(shutter) : []),
    ...(fieldStop
      ? [
          { what: 'field stop: how open it is', run: async () => `${figure(100 * (await fieldStop.opening()), 1)} %` },
          {
            what: 'field stop: half and back',
            question: 'Set the field stop to half and back?',
            run: async () => {
              const from = await fieldStop.opening();
              await fieldStop.setOpening(0.5);
              const there = await fieldStop.opening();
              await fieldStop.setOpening(Math.min(1, Math.max(0, from)));
              return `set to 50 % it said ${figure(100 * there, 1)} %`;
            },
          },
        ]
      : []),
  ];
}
