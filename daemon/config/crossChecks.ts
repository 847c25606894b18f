import { materialProblems } from './chipMaterial.ts';
import { closeUpProblems } from './closeUpChecks.ts';
import { deviceProblems } from './deviceChecks.ts';
import type { InstrumentConfig } from './instrument.ts';
import type { RunSheet } from './runSheet.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import { unknownName } from './unknownName.ts';
import type { Path } from './yamlSource.ts';

function inOrder(low: number, high: number, path: Path, lowName: string): PlacedProblem[] {
  return low < high ? [] : [{ path, message: `must be more than ${lowName} (${low}), not ${high}` }];
}

function limitProblems({ limits, focus }: InstrumentConfig): PlacedProblem[] {
  const { safeHeightUm, zMinUm, zMaxUm } = limits;
  const within = (zUm: number, path: Path): PlacedProblem[] => (zUm >= zMinUm && zUm <= zMaxUm
    ? []
    : [{ path, message: `must lie within zMinUm to zMaxUm (${zMinUm} to ${zMaxUm}), not ${zUm}` }]);
  return [
    ...inOrder(limits.xMinUm, limits.xMaxUm, ['limits', 'xMaxUm'], 'xMinUm'),
    ...inOrder(limits.yMinUm, limits.yMaxUm, ['limits', 'yMaxUm'], 'yMinUm'),
    ...inOrder(zMinUm, zMaxUm, ['limits', 'zMaxUm'], 'zMinUm'),
    ...within(safeHeightUm, ['limits', 'safeHeightUm']),
    ...within(focus.expectedUm, ['focus', 'expectedUm']),
    ...(focus.expectedUm < safeHeightUm ? [] : [{ path: ['focus', 'expectedUm'], message: `must be below safeHeightUm (${safeHeightUm}), where the objective clears every chip, not ${focus.expectedUm}` }]),
  ];
}

/** Slack that is longer than the way by which it is taken up never is. */
function playProblems({ stage: { playUm, backlashUm } }: InstrumentConfig): PlacedProblem[] {
  const longest = Math.max(0, ...(playUm ?? []));
  return longest <= backlashUm ? [] : [{ path: ['stage', 'playUm'], message: `must be at most backlashUm (${backlashUm}), not ${longest}: make backlashUm longer` }];
}

function pathProblems(instrument: InstrumentConfig, name: string): PlacedProblem[] {
  const path = instrument.opticalPaths[name];
  if (!path) return [];
  const at = ['opticalPaths', name];
  const objective = Object.hasOwn(instrument.objectives, path.objective) ? instrument.objectives[path.objective] : undefined;
  const { maxLampIntensity } = instrument.limits;
  if (objective && objective.numericalAperture >= 1) {
    const message = `"${path.objective}" has a numerical aperture of ${objective.numericalAperture}, which needs immersion; depth of field and contrast are reckoned in air, where it is below 1`;
    return [{ path: [...at, 'objective'], message }];
  }
  const problems = objective ? [] : unknownName(path.objective, Object.keys(instrument.objectives), [...at, 'objective'], 'objective');
  if (path.lampIntensity > maxLampIntensity) {
    problems.push({ path: [...at, 'lampIntensity'], message: `must be at most limits.maxLampIntensity (${maxLampIntensity}), not ${path.lampIntensity}` });
  }
  if (objective && path.apertureStopNa !== undefined && path.apertureStopNa > objective.numericalAperture) {
    problems.push({ path: [...at, 'apertureStopNa'], message: `must be at most the objective's numerical aperture (${objective.numericalAperture}), not ${path.apertureStopNa}` });
  }
  return problems;
}

function turretProblems(instrument: InstrumentConfig): PlacedProblem[] {
  const holders = new Map<number, string>();
  return Object.entries(instrument.objectives).flatMap(([name, { turretPosition }]) => {
    const holder = holders.get(turretPosition);
    holders.set(turretPosition, holder ?? name);
    return holder === undefined ? [] : [{ path: ['objectives', name, 'turretPosition'], message: `position ${turretPosition} holds "${holder}" already` }];
  });
}

function matrixProblems({ cameraToStage: { matrix } }: InstrumentConfig): PlacedProblem[] {
  if (!matrix || matrix[0] * matrix[3] !== matrix[1] * matrix[2]) return [];
  return [{ path: ['cameraToStage', 'matrix'], message: 'must have a determinant other than 0: columns and rows may not lie along one line' }];
}

function atLeastOne(instrument: InstrumentConfig): PlacedProblem[] {
  return (['objectives', 'opticalPaths'] as const)
    .filter((key) => Object.keys(instrument[key]).length === 0)
    .map((key) => ({ path: [key], message: 'must have at least one' }));
}

/** A known flake that cannot be gone to would be found out in the night only. Room for the take-up of the slack, as everywhere. */
function knownFlakeProblems({ knownFlake, limits, stage }: InstrumentConfig): PlacedProblem[] {
  if (!knownFlake) return [];
  const { backlashUm } = stage;
  const [xUm, yUm] = knownFlake.stageUm;
  const { xMinUm, xMaxUm, yMinUm, yMaxUm, zMinUm, zMaxUm } = limits;
  const isInReach = xUm - backlashUm >= xMinUm && xUm <= xMaxUm && yUm - backlashUm >= yMinUm && yUm <= yMaxUm;
  const { focusUm } = knownFlake;
  const isInFocus = focusUm === undefined || (focusUm >= zMinUm && focusUm <= zMaxUm);
  return [
    ...(isInReach ? [] : [{ path: ['knownFlake', 'stageUm'], message: `must lie within the limits of the stage (x ${xMinUm} to ${xMaxUm}, y ${yMinUm} to ${yMaxUm}), with ${backlashUm} um of room below for taking up the slack, not [${xUm}, ${yUm}]` }]),
    ...(isInFocus ? [] : [{ path: ['knownFlake', 'focusUm'], message: `must lie within zMinUm to zMaxUm (${zMinUm} to ${zMaxUm}), not ${focusUm}` }]),
  ];
}

/** What the schema of an instrument cannot say: settings that must fit one another. */
export function instrumentProblems(instrument: InstrumentConfig): PlacedProblem[] {
  return [
    ...limitProblems(instrument),
    ...deviceProblems(instrument),
    ...playProblems(instrument),
    ...atLeastOne(instrument),
    ...turretProblems(instrument),
    ...matrixProblems(instrument),
    ...knownFlakeProblems(instrument),
    ...Object.keys(instrument.opticalPaths).flatMap((name) => pathProblems(instrument, name)),
  ];
}

function chipNameProblems({ chips }: RunSheet): PlacedProblem[] {
  return chips.flatMap(({ name }, n) => {
    const first = chips.findIndex((chip) => chip.name === name);
    return first === n ? [] : [{ path: ['chips', n, 'name'], message: `chip ${first + 1} is called "${name}" already` }];
  });
}

/** What the schema of a run sheet cannot say. */
export function runSheetProblems(runSheet: RunSheet): PlacedProblem[] {
  const { layers, thicknessNm } = runSheet.lookFor;
  const layersAt = ['lookFor', 'layers'];
  const thicknessAt = ['lookFor', 'thicknessNm'];
  return [
    ...chipNameProblems(runSheet),
    ...materialProblems(runSheet),
    ...(layers[0] <= layers[1] ? [] : [{ path: layersAt, message: `the first number must not be more than the second, not [${layers.join(', ')}]` }]),
    ...(!thicknessNm || thicknessNm[0] < thicknessNm[1] ? [] : [{ path: thicknessAt, message: `the first number must be less than the second, not [${thicknessNm.join(', ')}]` }]),
  ];
}

/** A focus search never leaves the drive's limits: a range that reaches beyond them would be cut short, and a chip that lies there missed. */
function focusRangeProblems({ focus: { rangeUm }, opticalPath }: RunSheet, { limits, focus, opticalPaths, objectives }: InstrumentConfig): PlacedProblem[] {
  const path = Object.hasOwn(opticalPaths, opticalPath) ? opticalPaths[opticalPath] : undefined;
  const objective = path && Object.hasOwn(objectives, path.objective) ? objectives[path.objective] : undefined;
  if (!objective) return [];
  const expectedUm = focus.expectedUm + objective.parfocalUm;
  const roomUm = Math.min(expectedUm - limits.zMinUm, limits.zMaxUm - expectedUm);
  if (rangeUm <= roomUm) return [];
  const limit = expectedUm - limits.zMinUm < limits.zMaxUm - expectedUm ? `zMinUm (${limits.zMinUm})` : `zMaxUm (${limits.zMaxUm})`;
  const next = roomUm > 0 ? `at most ${roomUm} reaches no further` : 'there is no height to search: correct focus.expectedUm, parfocalUm or the limits of the instrument';
  return [{ path: ['focus', 'rangeUm'], message: `${rangeUm} above and below the expected focus (${expectedUm}) reaches beyond ${limit}: ${next}` }];
}

/** What only shows when a run sheet meets the instrument it is for; places are in the run sheet. */
export function togetherProblems(runSheet: RunSheet, instrument: InstrumentConfig): PlacedProblem[] {
  return [
    ...unknownName(runSheet.opticalPath, Object.keys(instrument.opticalPaths), ['opticalPath'], 'optical path in the instrument'),
    ...focusRangeProblems(runSheet, instrument),
    ...closeUpProblems(runSheet, instrument),
  ];
}
