import { basename, extname } from 'node:path';
import type { Band, BandSet, Film, IndexTable, Lamp } from '../../planner/optics/index.ts';
import { resampleEven } from '../../planner/optics/index.ts';
import { parseTable, readTableText, refuseTable, wavelengthColumn, type ColumnRule, type NumberTable } from './tableText.ts';

const indexColumns: readonly ColumnRule[] = [wavelengthColumn, { name: 'n', min: 0.01, max: 20 }, { name: 'k', min: 0, max: 20 }];
const sensitivity = (name: string): ColumnRule => ({ name, min: 0, max: 1e12 });
const layerThicknessNm = { min: 0.1, max: 100 };
/** The spectral range of every sum in the optics, 380 to 780 nm, each nanometre. */
const grid = { startNm: 380, stepNm: 1, count: 401 };

const column = (table: NumberTable, name: string): readonly number[] => table.columns.get(name) ?? [];
const nameOf = (table: NumberTable): string => table.remarks.get('name')?.value ?? basename(table.file, extname(table.file));

/** A column on the optics' own steps; `outside` holds beyond the table's ends, or its end values when that is left out. */
function even(table: NumberTable, name: string, outside?: number): number[] {
  return resampleEven(column(table, 'wavelength_nm'), column(table, name), grid.startNm, grid.stepNm, grid.count, outside);
}

function indexTable(table: NumberTable): IndexTable {
  return { name: nameOf(table), startNm: grid.startNm, stepNm: grid.stepNm, n: even(table, 'n'), k: even(table, 'k') };
}

/**
 * A film from the text of a table `wavelength_nm,n,k` with a comment `# layer_thickness_nm: 0.34`: index and thickness belong together.
 * @throws NightjarError `badTable`
 */
export function parseMaterial(text: string, file: string): Film {
  const table = parseTable(text, file, indexColumns);
  const remark = table.remarks.get('layer_thickness_nm');
  if (!remark) refuseTable(file, [{ line: 0, message: 'a comment "# layer_thickness_nm: 0.34" is missing: the thickness of one layer that n and k were fitted with' }]);
  const thickness = Number(remark?.value);
  if (!(thickness >= layerThicknessNm.min && thickness <= layerThicknessNm.max)) {
    refuseTable(file, [{ line: remark?.line ?? 0, message: `layer_thickness_nm has to be a number from ${layerThicknessNm.min} to ${layerThicknessNm.max}` }]);
  }
  return { table: indexTable(table), layerThicknessNm: thickness };
}

/** An oxide (or any film under the flake) from a table `wavelength_nm,n,k`. Throws `badTable`. */
export function parseOxide(text: string, file: string): IndexTable {
  return indexTable(parseTable(text, file, indexColumns));
}

/** A camera from a table `wavelength_nm,red,green,blue` or `wavelength_nm,grey`: relative sensitivities, 0 beyond the table's ends. Throws `badTable`. */
export function parseCamera(text: string, file: string): BandSet {
  const isGrey = /^\s*wavelength_nm\s*,\s*grey\s*$/im.test(text);
  const channels = isGrey ? ['grey'] : ['red', 'green', 'blue'];
  const table = parseTable(text, file, [wavelengthColumn, ...channels.map(sensitivity)]);
  refuseTable(file, channels.filter((name) => Math.max(...even(table, name, 0)) === 0).map((name) => ({ line: 0, message: `${name} is 0 everywhere` })));
  const bands = channels.map((name): Band => ({ kind: 'tabulated', startNm: grid.startNm, stepNm: grid.stepNm, sensitivity: even(table, name, 0) }));
  return { name: nameOf(table), bands };
}

/** A lamp from a table `wavelength_nm,power`: relative power per wavelength, 0 beyond the table's ends. Throws `badTable`. */
export function parseLamp(text: string, file: string): Lamp {
  const table = parseTable(text, file, [wavelengthColumn, sensitivity('power')]);
  const power = even(table, 'power', 0);
  if (Math.max(...power) === 0) refuseTable(file, [{ line: 0, message: 'power is 0 everywhere' }]);
  return { kind: 'tabulated', startNm: grid.startNm, stepNm: grid.stepNm, power };
}

/** Reads a user's table with one of the parsers above. Throws `noSuchFile`, `unreadableFile`, `badTable`. */
export async function readTable<T>(file: string, parse: (text: string, file: string) => T): Promise<T> {
  return parse(await readTableText(file), file);
}
