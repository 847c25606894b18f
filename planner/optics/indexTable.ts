/** A complex refractive index N = n + ik; k >= 0 absorbs (time dependence exp(-iwt)). */
export interface RefractiveIndex {
  readonly n: number;
  readonly k: number;
}

/**
 * n and k over vacuum wavelength in nm, on even steps. Between points both are interpolated linearly; beyond the ends the end value holds.
 * A column of one value is a constant.
 */
export interface IndexTable {
  readonly name: string;
  readonly startNm: number;
  readonly stepNm: number;
  readonly n: readonly number[];
  readonly k: readonly number[];
}

/** A value at `at` of a column that starts at `start` with even steps; linear in between, the end value beyond the ends. */
export function interpolateEven(column: readonly number[], start: number, step: number, at: number): number {
  const last = column.length - 1;
  const place = Math.min(Math.max((at - start) / step, 0), last);
  const below = Math.floor(place);
  const low = column[below] as number;
  const high = column[Math.min(below + 1, last)] as number;
  return low + (high - low) * (place - below);
}

/** The index of a material at one vacuum wavelength. */
export function indexAt(table: IndexTable, wavelengthNm: number): RefractiveIndex {
  return {
    n: interpolateEven(table.n, table.startNm, table.stepNm, wavelengthNm),
    k: interpolateEven(table.k, table.startNm, table.stepNm, wavelengthNm),
  };
}

/** A material whose index does not change with wavelength: for closed forms, and for published one-number fits. */
export function constantIndex(name: string, index: RefractiveIndex): IndexTable {
  return { name, startNm: 550, stepNm: 1, n: [index.n], k: [index.k] };
}

/**
 * Values of an unevenly spaced column at even steps, linear in between; `outside` beyond its ends, or the end values when it is left out.
 * @param atNm wavelengths of the column, strictly rising, at least one
 */
export function resampleEven(atNm: readonly number[], values: readonly number[], startNm: number, stepNm: number, count: number, outside?: number): number[] {
  let below = 0;
  return Array.from({ length: count }, (_, index) => {
    const nm = startNm + index * stepNm;
    const first = atNm[0] as number;
    const last = atNm.length - 1;
    if (nm < first) return outside ?? (values[0] as number);
    if (nm > (atNm[last] as number)) return outside ?? (values[last] as number);
    while (below < last && (atNm[below + 1] as number) <= nm) below++;
    if (below === last) return values[last] as number;
    const share = (nm - (atNm[below] as number)) / ((atNm[below + 1] as number) - (atNm[below] as number));
    return (values[below] as number) + share * ((values[below + 1] as number) - (values[below] as number));
  });
}
