import type { FocusDrive, Instrument, Lamp, SafetyLimits, Stage } from '../../drivers/interfaces/index.ts';
import { distanceUm, type StagePoint } from '../../planner/units/index.ts';
import type { Standing } from '../../simulators/index.ts';

/** One command as it reached a device, below the safety gate, and the state that it met. */
export type Command =
  | { readonly device: 'stage'; readonly from: StagePoint; readonly to: StagePoint; readonly zUm: number; readonly speedUmPerS: number; readonly whileFocusMoves: boolean }
  | { readonly device: 'home'; readonly zUm: number }
  | { readonly device: 'focus'; readonly fromUm: number; readonly toUm: number; readonly speedUmPerS: number; readonly whileStageMoves: boolean }
  | { readonly device: 'lamp'; readonly intensity: number };

export interface MoveLog {
  /** To be put under the safety gate. */
  readonly instrument: Instrument;
  readonly commands: readonly Command[];
}

/** Where things stand as the devices say, as far as they are well. */
function asked({ stage, focus }: Instrument, begun: { readonly stage: boolean; readonly focus: boolean }) {
  return { stageUm: () => stage.position(), zUm: () => focus.position(), isStageMoving: () => begun.stage, isFocusMoving: () => begun.focus };
}

/**
 * Writes down what reaches the devices of an instrument.
 * @param truth who knows where everything stands; where there is none the devices are asked, which their faults do not spare
 */
export function logMoves(raw: Instrument, truth?: Standing): MoveLog {
  const commands: Command[] = [];
  const begun = { stage: false, focus: false };
  const seen = truth ?? asked(raw, begun);
  const during = async <T>(axis: 'stage' | 'focus', motion: Promise<T>): Promise<T> => {
    begun[axis] = true;
    return motion.finally(() => (begun[axis] = false));
  };
  const { stage, focus, lamp } = raw;
  const spiedStage: Stage = {
    travel: stage.travel,
    position: () => stage.position(),
    state: () => stage.state(),
    stop: () => stage.stop(),
    close: () => stage.close(),
    async moveTo(to, options = {}) {
      commands.push({ device: 'stage', from: await seen.stageUm(), to, zUm: await seen.zUm(), speedUmPerS: options.speedUmPerS ?? Number.POSITIVE_INFINITY, whileFocusMoves: seen.isFocusMoving() });
      return during('stage', stage.moveTo(to, options));
    },
    async home(signal) {
      commands.push({ device: 'home', zUm: await seen.zUm() });
      return during('stage', stage.home(signal));
    },
  };
  const spiedFocus: FocusDrive = {
    zMinUm: focus.zMinUm,
    zMaxUm: focus.zMaxUm,
    position: () => focus.position(),
    stop: () => focus.stop(),
    close: () => focus.close(),
    async moveTo(toUm, options = {}) {
      commands.push({ device: 'focus', fromUm: await seen.zUm(), toUm, speedUmPerS: options.speedUmPerS ?? Number.POSITIVE_INFINITY, whileStageMoves: seen.isStageMoving() });
      return during('focus', focus.moveTo(toUm, options));
    },
  };
  const spiedLamp: Lamp = {
    intensity: () => lamp.intensity(),
    close: () => lamp.close(),
    setIntensity(intensity) {
      commands.push({ device: 'lamp', intensity });
      return lamp.setIntensity(intensity);
    },
  };
  return { instrument: { clock: raw.clock, camera: raw.camera, turret: raw.turret, stage: spiedStage, focus: spiedFocus, lamp: spiedLamp }, commands };
}

/** Commands that should never have reached a device, by the limits' own words in `instrument.yaml`; the gate's code is not asked. */
export function forbidden(commands: readonly Command[], limits: SafetyLimits): readonly Command[] {
  return commands.filter((command) => isForbidden(command, limits));
}

function isForbidden(command: Command, limits: SafetyLimits): boolean {
  switch (command.device) {
    case 'stage':
      return isForbiddenSideways(command, limits);
    case 'home':
      return command.zUm < limits.safeHeightUm;
    case 'focus': {
      const { fromUm, toUm, speedUmPerS, whileStageMoves } = command;
      const isLow = Math.min(fromUm, toUm) < limits.safeHeightUm;
      return toUm < limits.zMinUm || toUm > limits.zMaxUm || (isLow && (whileStageMoves || speedUmPerS > limits.maxLowFocusSpeedUmPerS));
    }
    case 'lamp':
      return command.intensity < 0 || command.intensity > limits.maxLampIntensity;
  }
}

function isForbiddenSideways({ from, to, zUm, speedUmPerS, whileFocusMoves }: Command & { device: 'stage' }, limits: SafetyLimits): boolean {
  const isOutside = to.xUm < limits.xMinUm || to.xUm > limits.xMaxUm || to.yUm < limits.yMinUm || to.yUm > limits.yMaxUm;
  const isLow = zUm < limits.safeHeightUm;
  return isOutside || (isLow && (whileFocusMoves || distanceUm(from, to) > limits.maxLowTravelUm || speedUmPerS > limits.maxLowSpeedUmPerS));
}
