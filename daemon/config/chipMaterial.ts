import type { BookContext } from '../../planner/flakes/context.ts';
import { measuresThickness } from '../../planner/layers/tuning.ts';
import { materialIds, type Film, type MaterialId } from '../../planner/optics/index.ts';
import { hasCode, NightjarError } from '../errors/index.ts';
import { parseMaterial } from '../materials/read.ts';
import type { ChipSheet, RunSheet } from './runSheet.ts';
import type { PlacedProblem } from './schemaProblems.ts';

type Named = Pick<ChipSheet, 'material' | 'materialTable'>;

/** A table stands in the sheet itself, on lines of its own; the name of a file has one line. */
export function isTableText(value: string): boolean {
  return value.includes('\n');
}

const tableSource = 'the table in the run sheet';

/** The optical data of a chip's material: built in by its name, or from the table that the run sheet holds. Throws `unknownMaterial` or `badTable`. */
export function materialOf({ material, materialTable }: Named): MaterialId | Film {
  if (materialTable !== undefined) return parseMaterial(materialTable, tableSource);
  const known = materialIds.find((id) => id === material);
  if (!known) throw new NightjarError('unknownMaterial', { material, known: materialIds });
  return known;
}

/** What a book is read with as far as the run sheet says. Throws `internal` for a chip that it does not have. */
export function soughtOn({ chips, lookFor }: RunSheet, name: string): Omit<BookContext, 'chip' | 'numericalAperture' | 'lamp' | 'whiteBalance'> {
  const chip = chips.find((each) => each.name === name);
  if (!chip) throw new NightjarError('internal', { reason: `the run sheet has no chip ${name}` });
  const { layers, thicknessNm, leastUsableUm } = lookFor;
  const thickness = thicknessNm ? { thicknessFromNm: thicknessNm[0], thicknessToNm: thicknessNm[1] } : {};
  return { material: materialOf(chip), oxideNm: chip.oxideNm, layersFrom: layers[0], layersTo: layers[1], ...thickness, leastUsableUm };
}

/** What is wrong with the materials that a run sheet names, and with a thickness that none of them is measured by. */
export function materialProblems({ chips, lookFor }: RunSheet): PlacedProblem[] {
  const problems = chips.flatMap((chip, n) => chipProblems(chip, ['chips', n]));
  if (!lookFor.thicknessNm || chips.some(({ material, materialTable }) => materialTable === undefined && measuresThickness({ material }))) return problems;
  const message = `is for chips whose thickness is what is measured (${materialIds.filter((material) => measuresThickness({ material })).join(', ')}), and there is none; take it out, and say with \`layers\` what is looked for`;
  return [...problems, { path: ['lookFor', 'thicknessNm'], message }];
}

function chipProblems(chip: Named, path: PlacedProblem['path']): PlacedProblem[] {
  if (chip.materialTable === undefined) {
    if (materialIds.some((id) => id === chip.material)) return [];
    return [{ path: [...path, 'material'], message: `must be one of ${materialIds.join(', ')}, not "${chip.material}"; for any other give its table of n and k as materialTable` }];
  }
  const at = [...path, 'materialTable'];
  if (!isTableText(chip.materialTable)) return [{ path: at, message: 'names a file, which is only read beside a run sheet that is a file itself; put the table\'s lines here instead, after "materialTable: |"' }];
  try {
    parseMaterial(chip.materialTable, tableSource);
    return [];
  } catch (error) {
    return [{ path: at, message: reasonOf(error) }];
  }
}

/** What is wrong with a table or its file, as part of one line. Throws again what is about neither. */
export function reasonOf(error: unknown): string {
  if (hasCode(error, 'badTable')) return error.details.problems.map(({ line, message }) => (line > 0 ? `line ${line} of the table: ${message}` : message)).join('; ');
  if (hasCode(error, 'noSuchFile')) return `there is no file ${error.details.file}`;
  if (hasCode(error, 'unreadableFile')) return `${error.details.file} cannot be read: ${error.details.reason}`;
  throw error;
}
