/** The middle of the values (mean of the two middle ones for an even count); 0 for none. The input is not changed. */
export function median(values: Float32Array): number {
  if (values.length === 0) return 0;
  const sorted = Float32Array.from(values).sort();
  const half = sorted.length >> 1;
  const upper = sorted[half] as number;
  return sorted.length % 2 === 1 ? upper : ((sorted[half - 1] as number) + upper) / 2;
}

/** The value below which a share `quantile` of the values lies; 0 for none. */
export function lowQuantile(values: Float32Array, quantile: number): number {
  if (values.length === 0) return 0;
  const sorted = Float32Array.from(values).sort();
  return sorted[Math.min(sorted.length - 1, Math.floor(quantile * sorted.length))] as number;
}
