/** Decodes one sRGB value of 0 to 1 to linear light (IEC 61966-2-1:1999). */
export function srgbToLinear(v: number): number {
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
}

const tables = new Map<string, Float32Array>();

/**
 * Linear light (0 to 1 of full scale) for every sample value 0 to `fullScale`. Tables are kept: there are only a few kinds of camera.
 */
export function linearTable(transfer: 'linear' | 'srgb', fullScale: number): Float32Array {
  const key = `${transfer}${String(fullScale)}`;
  const known = tables.get(key);
  if (known) return known;
  const table = new Float32Array(fullScale + 1);
  for (let i = 0; i <= fullScale; i++) table[i] = transfer === 'srgb' ? srgbToLinear(i / fullScale) : i / fullScale;
  tables.set(key, table);
  return table;
}
