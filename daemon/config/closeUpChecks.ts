import type { InstrumentConfig } from './instrument.ts';
import { closeUpPolicyFor, opticalPathFor } from './resolve.ts';
import type { RunSheet } from './runSheet.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import { unknownName } from './unknownName.ts';

/** What of the close-ups does not fit the instrument: a path that it has not, a search or a stack that would leave the drive's limits. */
export function closeUpProblems({ closeUps }: RunSheet, instrument: InstrumentConfig): PlacedProblem[] {
  if (!closeUps) return [];
  const unknown = unknownName(closeUps.opticalPath, Object.keys(instrument.opticalPaths), ['closeUps', 'opticalPath'], 'optical path in the instrument');
  if (unknown.length > 0 || !hasObjective(closeUps.opticalPath, instrument)) return unknown;
  const { limits, focus } = instrument;
  const path = opticalPathFor(closeUps.opticalPath, instrument);
  const { stackFrames, stackStepUm } = closeUpPolicyFor(closeUps, instrument);
  const expectedUm = focus.expectedUm + path.parfocalUm;
  const roomUm = Math.max(0, Math.min(expectedUm - limits.zMinUm, limits.zMaxUm - expectedUm));
  const inWords = (um: number): string => `${Math.round(10 * um) / 10} um`;
  const stackUm = ((stackFrames - 1) * stackStepUm) / 2;
  const reach = (reachUm: number, key: string, what: string): PlacedProblem[] =>
    reachUm <= roomUm ? [] : [{ path: ['closeUps', key], message: `${what} reaches ${inWords(reachUm)} above and below the expected focus (${inWords(expectedUm)}), and only ${inWords(roomUm)} lie within zMinUm to zMaxUm (${limits.zMinUm} to ${limits.zMaxUm}): make it smaller` }];
  return [...reach(closeUps.focusRangeUm, 'focusRangeUm', 'the search'), ...reach(stackUm, 'stackFrames', 'the stack')];
}

/** A path whose objective is missing is told of at the instrument. */
function hasObjective(name: string, { opticalPaths, objectives }: InstrumentConfig): boolean {
  const path = opticalPaths[name];
  return path !== undefined && Object.hasOwn(objectives, path.objective);
}
