/** Cost of going from one place to another, by their numbers; the same both ways. */
export type CostOf = (from: number, to: number) => number;

/** For each place the `most` nearest others, nearest first, one after the other in one array; -1 where there are fewer. */
export function nearestNeighbours(count: number, costOf: CostOf, most: number): Int32Array {
  const width = Math.min(most, count - 1);
  const lists = new Int32Array(count * most).fill(-1);
  const costs = new Float64Array(width);
  for (let place = 0; place < count; place += 1) {
    const begin = place * most;
    let kept = 0;
    for (let other = 0; other < count; other += 1) {
      if (other === place) continue;
      const cost = costOf(place, other);
      if (kept === width && cost >= (costs[width - 1] as number)) continue;
      let at = kept < width ? kept : width - 1;
      for (; at > 0 && (costs[at - 1] as number) > cost; at -= 1) {
        costs[at] = costs[at - 1] as number;
        lists[begin + at] = lists[begin + at - 1] as number;
      }
      costs[at] = cost;
      lists[begin + at] = other;
      if (kept < width) kept += 1;
    }
  }
  return lists;
}

/** A tour to begin with: always on to the nearest place that is left. */
export function nearestFirst(count: number, costOf: CostOf): Int32Array {
  const order = new Int32Array(count);
  const isOpen = new Uint8Array(count).fill(1);
  let here = 0;
  for (let at = 0; at < count; at += 1) {
    order[at] = here;
    isOpen[here] = 0;
    let next = -1;
    let least = Infinity;
    for (let other = 0; other < count; other += 1) {
      if (!isOpen[other]) continue;
      const cost = costOf(here, other);
      if (cost < least) [least, next] = [cost, other];
    }
    here = next;
  }
  return order;
}
