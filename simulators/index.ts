/** What the floor above may use: the microscope, its trays, its clock and its faults. The truth is not among it. */
export { paceBy } from './clock/pace.ts';
export { VirtualClock, type Pace, type VirtualClockOptions } from './clock/virtualClock.ts';
export { faultKinds, type DescribedFault, type FaultKind } from './devices/faultKinds.ts';
export { Faults, type DeviceName, type FaultName } from './devices/faults.ts';
export type { CameraModel, SimulatedObjective } from './camera/cameraModel.ts';
export type { FocusBehaviour } from './devices/simulatedFocus.ts';
export type { StageBehaviour } from './devices/simulatedStage.ts';
export type { Remounting } from './world/remount.ts';
export type { LampKind } from './optics/lightPath.ts';
export { createSimulatedMicroscope, type SimulatedMicroscope, type SimulatedMicroscopeOptions, type Standing } from './microscope.ts';
export { findTray, makeTray, trayNames, CLEAN, MUCH_DIRT, USUAL_DIRT, type ChipWish } from './trays.ts';
export type { ChipRecipe, ChipSurface, Dirt, LayerShare, Tray } from './world/types.ts';
