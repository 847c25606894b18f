import { nearest } from './nearest.ts';
import type { PlacedProblem } from './schemaProblems.ts';
import type { Path } from './yamlSource.ts';

/** Empty where a name is known; else with the nearest one. */
export function unknownName(name: string, known: readonly string[], path: Path, kind: string): PlacedProblem[] {
  if (known.includes(name)) return [];
  const near = nearest(name, known);
  return [{ path, message: `there is no ${kind} "${name}"${near === undefined ? '; none is named' : `; the nearest is "${near}" (all: ${known.join(', ')})`}` }];
}
