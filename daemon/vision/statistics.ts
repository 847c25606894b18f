/** The middle of the values (mean of the two middle ones for an even count); 0 for none. The input is not changed. */
export function median(values: Float32Array): number {
  if (values.length === 0) return 0;
  const room = values.slice();
  const half = room.length >> 1;
  const upper = select(room, half);
  if (room.length % 2 === 1) return upper;
  let lower = room[0] as number;
  for (let i = 1; i < half; i++) if ((room[i] as number) > lower) lower = room[i] as number;
  return (lower + upper) / 2;
}

/** The value below which a share `quantile` of the values lies; 0 for none. */
export function lowQuantile(values: Float32Array, quantile: number): number {
  if (values.length === 0) return 0;
  return select(values.slice(), Math.min(values.length - 1, Math.floor(quantile * values.length)));
}

/**
 * The value that would stand at `place` if the values were sorted; puts none larger before it and none smaller behind it (Hoare's
 * selection, Comm. ACM 4, 321 (1961), with the median of three as pivot). Values must be numbers.
 */
function select(values: Float32Array, place: number): number {
  let from = 0;
  let to = values.length - 1;
  while (from < to) {
    const pivot = middleOf(values[from] as number, values[(from + to) >> 1] as number, values[to] as number);
    let i = from;
    let j = to;
    while (i <= j) {
      while ((values[i] as number) < pivot) i++;
      while ((values[j] as number) > pivot) j--;
      if (i > j) break;
      const swapped = values[i] as number;
      values[i++] = values[j] as number;
      values[j--] = swapped;
    }
    if (place <= j) to = j;
    else if (place >= i) from = i;
    else break;
  }
  return values[place] as number;
}

function middleOf(a: number, b: number, c: number): number {
  return Math.max(Math.min(a, b), Math.min(Math.max(a, b), c));
}
