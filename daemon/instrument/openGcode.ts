import { openGcodeController, type GcodeController } from '../../drivers/gcode/index.ts';
import type { GcodeAxis } from '../../drivers/gcode/axis.ts';
import type { Clock } from '../../drivers/interfaces/index.ts';
import type { OpenWire } from '../../drivers/line/wire.ts';
import type { InstrumentConfig } from '../config/instrument.ts';
import type { RealDevices } from './devices.ts';
import { stateFolder } from '../stateFolder.ts';
import { restMemory } from './restMemory.ts';

type AxisConfig = NonNullable<InstrumentConfig['stage']['gcode']>['x'];

/** An axis as the driver wants it: its letter and counts from the file, its ends from the limits, which nothing may go beyond. */
function axisOf({ letter, zeroAtUm, reversed, stepsPerMm }: AxisConfig, minUm: number, maxUm: number, maxSpeedUmPerS: number): GcodeAxis {
  return { letter, sign: reversed ? -1 : 1, originUm: zeroAtUm, minUm, maxUm, stepsPerMm, maxSpeedUmPerS };
}

/** Opens a G-code controller with what the file has behind its line: a stage, a focus drive, or both. */
export async function openGcode(line: string, { stage, focus, limits, lines }: InstrumentConfig, openWire: OpenWire, clock: Clock): Promise<RealDevices> {
  const xy = stage.line === line ? stage.gcode : undefined;
  const z = focus.line === line ? focus.gcode : undefined;
  const { serial, tcp } = lines[line] ?? {};
  const name = serial?.port ?? (tcp ? `${tcp.host}:${tcp.port}` : line);
  const controller = await openGcodeController({
    clock,
    openWire,
    line: { line: name, ...(serial ? { baudRate: serial.baudRate } : {}) },
    ...(xy ? { stage: { x: axisOf(xy.x, limits.xMinUm, limits.xMaxUm, stage.maxSpeedUmPerS), y: axisOf(xy.y, limits.yMinUm, limits.yMaxUm, stage.maxSpeedUmPerS) } } : {}),
    ...(z ? { focus: axisOf(z.z, limits.zMinUm, limits.zMaxUm, focus.speedUmPerS) } : {}),
    reference: (xy ?? z)?.reference ?? 'homing',
    memory: restMemory(stateFolder(process.env), name),
  });
  return { devices: devicesOf(controller, (xy ?? z)?.reference === 'byHand'), counters: () => ({ [name]: { ...controller.counters } }), close: () => controller.close() };
}

/** Stage and focus drive on one controller are homed together, the objective first, as the driver has made sure; a focus drive alone is homed by itself. */
function devicesOf(controller: GcodeController, isByHand: boolean): RealDevices['devices'] {
  const { stage, focus } = controller;
  const byHand = isByHand ? { takeReference: () => controller.takeReference() } : {};
  return {
    ...(stage ? { stage: { ...stage, ...byHand, ...(focus && !isByHand ? { homingLifts: true as const } : {}) } } : {}),
    ...(focus ? { focus: { ...focus, ...(stage ? {} : { ...byHand, ...(isByHand ? {} : { home: (signal?: AbortSignal) => controller.home(signal) }) }) } } : {}),
  };
}
