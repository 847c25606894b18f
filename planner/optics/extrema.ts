/** A place where a sampled function is largest among its neighbours. */
export interface Peak {
  readonly at: number;
  readonly value: number;
}

/**
 * Local maxima of an evenly sampled function inside its range (never at an end), each refined by the parabola through three samples.
 * @param start place of the first sample
 */
export function peaksOf(samples: readonly number[], start: number, step: number): Peak[] {
  const found: Peak[] = [];
  for (let i = 1; i < samples.length - 1; i++) {
    const [left, here, right] = [samples[i - 1] as number, samples[i] as number, samples[i + 1] as number];
    if (!(here > left && here >= right)) continue;
    const shift = (left - right) / (2 * (left - 2 * here + right));
    found.push({ at: start + (i + shift) * step, value: here - ((left - right) * shift) / 4 });
  }
  return found;
}
