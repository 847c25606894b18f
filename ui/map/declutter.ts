/** What may be drawn at a place on the screen, best first. */
export interface Spot {
  readonly x: number;
  readonly y: number;
}

/**
 * Of spots given best first, those whose marks (squares of `sizePx`) do not cover a better one. Looked up in a grid with cells of
 * that size, so that thousands take no longer than a glance.
 */
export function uncovered<T extends Spot>(spots: readonly T[], sizePx: number): ReadonlySet<T> {
  const kept = new Map<string, T[]>();
  const result = new Set<T>();
  for (const spot of spots) {
    const column = Math.floor(spot.x / sizePx);
    const row = Math.floor(spot.y / sizePx);
    if (isCovered(kept, spot, column, row, sizePx)) continue;
    const key = `${column},${row}`;
    const cell = kept.get(key);
    if (cell) cell.push(spot);
    else kept.set(key, [spot]);
    result.add(spot);
  }
  return result;
}

function isCovered(kept: ReadonlyMap<string, readonly Spot[]>, spot: Spot, column: number, row: number, sizePx: number): boolean {
  for (let c = column - 1; c <= column + 1; c += 1) {
    for (let r = row - 1; r <= row + 1; r += 1) {
      const cell = kept.get(`${c},${r}`);
      if (cell?.some((other) => Math.abs(other.x - spot.x) < sizePx && Math.abs(other.y - spot.y) < sizePx)) return true;
    }
  }
  return false;
}
