import type { DevicePlan } from '../../drivers/described/index.ts';
import { parseDescription } from '../describe/readDescription.ts';
import { hasCode } from '../errors/index.ts';
import type { InstrumentConfig } from './instrument.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import { unknownName } from './unknownName.ts';
import type { Path } from './yamlSource.ts';

/** What belongs to a driver: these settings must be there with it, and only with it. */
const belongsTo: Readonly<Record<string, readonly string[]>> = {
  simulated: [],
  byHand: [],
  gcode: ['line', 'gcode'],
  described: ['line'],
  genicam: ['genicam'],
  rawVideo: ['rawVideo'],
  frameSet: ['frameSet'],
};
const settingsOfDrivers: readonly string[] = [...new Set(Object.values(belongsTo).flat())];

interface Placed {
  readonly path: Path;
  readonly device: { readonly driver: string };
}

function devicesOf({ stage, focus, camera, turret, lamp }: InstrumentConfig): readonly Placed[] {
  const plain = Object.entries({ stage, focus, camera, turret, lamp }).map(([name, device]) => ({ path: [name], device }));
  return focus.fieldStop ? [...plain, { path: ['focus', 'fieldStop'], device: focus.fieldStop }] : plain;
}

function settingProblems({ path, device }: Placed): PlacedProblem[] {
  const wanted = belongsTo[device.driver] ?? [];
  const has = (setting: string): boolean => Reflect.get(device, setting) !== undefined;
  return [
    ...wanted.filter((setting) => !has(setting)).map((setting) => ({ path, message: `driver ${device.driver} needs ${setting}` })),
    ...settingsOfDrivers.filter((setting) => has(setting) && !wanted.includes(setting)).map((setting) => ({ path: [...path, setting], message: `is not for driver ${device.driver}` })),
  ];
}

/** Devices behind lines, with the way to their `line`. */
function usersOfLines(instrument: InstrumentConfig): readonly { readonly path: Path; readonly name: string; readonly driver: string; readonly line: string }[] {
  return devicesOf(instrument).flatMap(({ path, device }) => {
    const line: unknown = Reflect.get(device, 'line');
    return typeof line === 'string' ? [{ path: [...path, 'line'], name: String(path.at(-1)), driver: device.driver, line }] : [];
  });
}

function lineProblems(instrument: InstrumentConfig): PlacedProblem[] {
  const named = usersOfLines(instrument).flatMap(({ path, line }) => unknownName(line, Object.keys(instrument.lines), path, 'line under `lines`'));
  const ends = Object.entries(instrument.lines).flatMap(([name, { serial, tcp }]) => ((serial === undefined) === (tcp === undefined) ? [{ path: ['lines', name], message: 'must have exactly one of serial, tcp' }] : []));
  return [...named, ...ends];
}

/** A line is spoken in one way: two drivers on it would take one another's answers. */
function spokenProblems(instrument: InstrumentConfig): PlacedProblem[] {
  const users = usersOfLines(instrument);
  return users.flatMap(({ path, driver, line }) => {
    const first = users.find((other) => other.line === line)?.driver;
    if (first !== driver) return [{ path, message: `line "${line}" is spoken to by driver ${first ?? ''} already` }];
    const has = instrument.lines[line]?.deviceFile !== undefined;
    if (driver === 'described' && !has) return [{ path: ['lines', line], message: 'needs deviceFile: a device with driver described is behind it' }];
    return driver !== 'described' && has ? [{ path: ['lines', line, 'deviceFile'], message: `is not for driver ${driver}` }] : [];
  });
}

/** What a device can do by its description must be enough for what the instrument file asks of it. */
function describedProblems({ parts }: DevicePlan, line: string, { stage, focus, turret, limits, objectives }: InstrumentConfig): PlacedProblem[] {
  const travel = stage.line === line ? parts.stage?.travel : undefined;
  const range = focus.line === line ? parts.focus : undefined;
  const positions = turret.line === line ? parts.turret?.positions : undefined;
  const ends = [
    ...(travel ? (['xMinUm', 'xMaxUm', 'yMinUm', 'yMaxUm'] as const).map((key) => ({ key, end: travel[key] })) : []),
    ...(range ? (['zMinUm', 'zMaxUm'] as const).map((key) => ({ key, end: range[key] })) : []),
  ];
  const beyond = ends.filter(({ key, end }) => (key.endsWith('MinUm') ? limits[key] < end : limits[key] > end));
  const missing = positions === undefined ? [] : Object.entries(objectives).filter(([, { turretPosition }]) => turretPosition >= positions);
  return [
    ...beyond.map(({ key, end }) => ({ path: ['limits', key], message: `lies beyond the end of the device's travel (${end}), as its device file has it` })),
    ...missing.map(([name]) => ({ path: ['objectives', name, 'turretPosition'], message: `must be below ${positions ?? 0}: the device file describes so many positions, counted from 0` })),
  ];
}

/** A device file must stand in its place by now, in order, and describe what is said to be behind its line. */
function deviceFileProblems(instrument: InstrumentConfig): PlacedProblem[] {
  return Object.entries(instrument.lines).flatMap(([name, { deviceFile }]) => {
    if (deviceFile === undefined) return [];
    const path = ['lines', name, 'deviceFile'];
    if (!deviceFile.includes('\n')) return [{ path, message: 'names a file, which is only read beside an instrument file that is a file itself' }];
    try {
      const { plan } = parseDescription({ text: deviceFile, file: 'device file' });
      const problems = describedProblems(plan, name, instrument);
      const missing = usersOfLines(instrument).filter((user) => user.line === name && Reflect.get(plan.parts, user.name) === undefined);
      return [...problems, ...missing.map((user) => ({ path: user.path, message: `the device file of line "${name}" describes no ${user.name}` }))];
    } catch (error) {
      if (!hasCode(error, 'badConfig')) throw error;
      return error.details.problems.map(({ line, key, message }) => ({ path, message: `line ${line} of the device file, ${key === '' ? 'whole file' : key}: ${message}` }));
    }
  });
}

/** One controller comes to know where it is in one way, and has each letter once. */
function gcodeProblems({ stage, focus }: InstrumentConfig): PlacedProblem[] {
  const letters = [stage.gcode?.x.letter, stage.gcode?.y.letter];
  const twice = letters[0] !== undefined && letters[0] === letters[1] ? [{ path: ['stage', 'gcode', 'y', 'letter'], message: `is the letter of x (${letters[0]}) already` }] : [];
  if (!stage.gcode || !focus.gcode || stage.line !== focus.line) return twice;
  return [
    ...twice,
    ...(letters.includes(focus.gcode.z.letter) ? [{ path: ['focus', 'gcode', 'z', 'letter'], message: `is a letter of the stage (${letters.join(', ')}) already` }] : []),
    ...(focus.gcode.reference === stage.gcode.reference ? [] : [{ path: ['focus', 'gcode', 'reference'], message: `must be that of the stage (${stage.gcode.reference}): they are one controller` }]),
  ];
}

function byHandProblems({ turret, objectives }: InstrumentConfig): PlacedProblem[] {
  if (turret.driver !== 'byHand') return [];
  const others = Object.entries(objectives).filter(([, { turretPosition }]) => turretPosition !== 0);
  return others.map(([name]) => ({ path: ['objectives', name, 'turretPosition'], message: 'must be 0: a turret that is turned by hand has one position, the objective that is in place' }));
}

function fixedExposureProblems({ camera: { rawVideo }, opticalPaths }: InstrumentConfig): PlacedProblem[] {
  if (!rawVideo) return [];
  return Object.entries(opticalPaths)
    .filter(([, { exposureMs }]) => exposureMs !== rawVideo.exposureMs)
    .map(([name, { exposureMs }]) => ({ path: ['opticalPaths', name, 'exposureMs'], message: `must be camera.rawVideo.exposureMs (${rawVideo.exposureMs}), not ${exposureMs}: a raw-video pipe cannot change it` }));
}

function whichCameraProblems({ camera: { genicam } }: InstrumentConfig): PlacedProblem[] {
  if (!genicam || genicam.serial === undefined || genicam.address === undefined) return [];
  return [{ path: ['camera', 'genicam', 'address'], message: 'name the camera by serial or by address, not by both' }];
}

/** What the schema cannot say of devices and their drivers. */
export function deviceProblems(instrument: InstrumentConfig): PlacedProblem[] {
  return [
    ...devicesOf(instrument).flatMap(settingProblems),
    ...lineProblems(instrument),
    ...spokenProblems(instrument),
    ...deviceFileProblems(instrument),
    ...gcodeProblems(instrument),
    ...byHandProblems(instrument),
    ...fixedExposureProblems(instrument),
    ...whichCameraProblems(instrument),
  ];
}
