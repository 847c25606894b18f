import { complex, type Complex } from './complexNumber.ts';

export const FIRST_NM = 380;
export const STEP_NM = 10;
export const LAST_NM = 780;
/** The wavelengths at which the simulator computes light: 380, 390, ... 780 nm. */
export const WAVELENGTHS_NM: readonly number[] = Array.from({ length: (LAST_NM - FIRST_NM) / STEP_NM + 1 }, (_, i) => FIRST_NM + i * STEP_NM);

/** Refractive index n + i k at each of the simulator's wavelengths; k >= 0 absorbs. */
export interface IndexTable {
  readonly n: readonly number[];
  readonly k: readonly number[];
}

/** The index at one of the simulator's wavelengths. */
export function indexAt(table: IndexTable, wavelengthIndex: number): Complex {
  const n = table.n[wavelengthIndex];
  const k = table.k[wavelengthIndex];
  if (n === undefined || k === undefined) throw new RangeError(`no index at wavelength number ${wavelengthIndex}`);
  return complex(n, k);
}
