import type { Camera, Clock, Instrument } from '../drivers/interfaces/index.ts';
import type { StagePoint } from '../planner/units/index.ts';
import type { CameraModel, SimulatedObjective } from './camera/cameraModel.ts';
import { createInlineRenderer, createWorkerRenderer } from './camera/renderer.ts';
import type { SceneOptions } from './camera/scene.ts';
import { SimulatedCamera, type Sight } from './camera/simulatedCamera.ts';
import { computerClock } from './clock/computerClock.ts';
import { VirtualClock } from './clock/virtualClock.ts';
import { Faults, type DeviceName } from './devices/faults.ts';
import { overALine } from './devices/replies.ts';
import { createSimulatedFieldStop, type FieldStopBehaviour } from './devices/simulatedFieldStop.ts';
import { createSimulatedFocus, USUAL_FOCUS, type FocusBehaviour } from './devices/simulatedFocus.ts';
import { createSimulatedLamp } from './devices/simulatedLamp.ts';
import { createSimulatedStage, USUAL_STAGE, type StageBehaviour } from './devices/simulatedStage.ts';
import { createSimulatedTurret } from './devices/simulatedTurret.ts';
import type { LampKind } from './optics/lightPath.ts';
import type { Remounting } from './world/remount.ts';
import type { Tray } from './world/types.ts';

/** What a simulated microscope is made from. The same options give the same microscope, chips and nights. */
export interface SimulatedMicroscopeOptions {
  readonly seed: number;
  readonly tray: Tray;
  /** Chips that lie elsewhere than the tray has them, by name. */
  readonly remounted?: Readonly<Record<string, Remounting>>;
  readonly camera: CameraModel & { readonly readoutMs: number };
  /** By turret position. Exposure is calibrated on the first. */
  readonly objectives: readonly SimulatedObjective[];
  readonly lamp?: LampKind;
  /** The lamp gives this share of the light that it gave when it was new; all of it when left out. */
  readonly lampShare?: number;
  readonly stage?: Partial<StageBehaviour>;
  readonly focus?: Partial<FocusBehaviour>;
  /** A motorised field stop; none when left out. */
  readonly fieldStop?: FieldStopBehaviour;
  /** What the clock says at first, ms since 1970; not used when a clock is given. */
  readonly startMs: number;
  /** Another clock than the virtual one that is made otherwise. */
  readonly clock?: Clock;
  /** Where frames are rendered: in a thread of their own (needs the build), or in this one. */
  readonly renderIn?: 'worker' | 'here';
}

/** Where motors, turret and lamp stand, whatever has become of their lines. */
export interface Standing {
  stageUm(): StagePoint;
  zUm(): number;
  isStageMoving(): boolean;
  isFocusMoving(): boolean;
  objective(): number;
  lampIntensity(): number;
}

export interface SimulatedMicroscope {
  /** Without a safety gate: whoever opens it puts one round it. The truth cannot be reached from it. */
  readonly instrument: Instrument;
  readonly faults: Faults;
  /** For onlookers in tests only: whoever opens the microscope for a night hands on nothing but its instrument. */
  readonly standing: Standing;
  /** The clock, when it is virtual. */
  readonly virtualClock: VirtualClock | undefined;
}

/** Makes a microscope with a tray of chips under it. Close its camera to end its thread. */
export function createSimulatedMicroscope(options: SimulatedMicroscopeOptions): SimulatedMicroscope {
  const { seed, tray, camera: model, objectives, lamp: lampKind = 'halogen' } = options;
  const clock = options.clock ?? new VirtualClock({ startMs: options.startMs });
  const faults = new Faults(clock);
  const daemonsClock = computerClock(clock, faults);
  const stage = createSimulatedStage(clock, seed, faults, { ...USUAL_STAGE, ...options.stage });
  const focus = createSimulatedFocus(clock, seed, faults, { ...USUAL_FOCUS, ...options.focus });
  const turret = createSimulatedTurret(clock, faults, objectives.length);
  const lamp = createSimulatedLamp(clock, seed, faults, options.lampShare);
  const stop = options.fieldStop && createSimulatedFieldStop(clock, faults, options.fieldStop);
  const { widthPx, heightPx, bits, transfer } = model;
  const scene: SceneOptions = { seed, tray, camera: { widthPx, heightPx, bits, transfer }, objectives, lamp: lampKind, ...(options.remounted ? { remounted: options.remounted } : {}) };
  const renderer = options.renderIn === 'worker' ? createWorkerRenderer(scene) : createInlineRenderer(scene);
  const sight: Sight = {
    atUm: () => stage.trueUm(),
    zUm: () => focus.trueUm(),
    objective: () => turret.inPlace(),
    lampIntensity: () => lamp.trueIntensity(),
    ...(stop ? { stop: () => stop.trueState() } : {}),
  };
  const camera = new SimulatedCamera({ clock, stamps: daemonsClock, model, readoutMs: model.readoutMs, sight, renderer, faults });
  const behind = <T extends object>(device: T, name: DeviceName): T => overALine(device, name, clock, faults);
  const instrument = {
    clock: daemonsClock,
    stage: behind(stage.stage, 'stage'),
    focus: behind(focus.focus, 'focus'),
    camera: behind<Camera>(camera, 'camera'),
    turret: behind(turret.turret, 'turret'),
    lamp: behind(lamp.lamp, 'lamp'),
    ...(stop ? { fieldStop: behind(stop.fieldStop, 'fieldStop') } : {}),
  };
  const standing: Standing = {
    stageUm: () => stage.motorUm(),
    zUm: () => focus.motorUm(),
    isStageMoving: () => stage.isMoving(),
    isFocusMoving: () => focus.isMoving(),
    objective: () => turret.inPlace(),
    lampIntensity: () => lamp.setting(),
  };
  return { instrument, faults, standing, virtualClock: clock instanceof VirtualClock ? clock : undefined };
}
