/**
 * Does something for every item, at most `inFlight` at a time, and hands the results on in the order of the items. A failure ends the
 * loop; what is still under way is waited for first, so that nothing is left running.
 */
export async function* inParallel<I, R>(items: readonly I[], inFlight: number, work: (item: I) => Promise<R>): AsyncGenerator<readonly [I, R]> {
  const running: Promise<R>[] = [];
  let next = 0;
  try {
    for (const item of items) {
      while (next < items.length && running.length < inFlight) running.push(work(items[next++] as I));
      const first = running.shift();
      if (first) yield [item, await first];
    }
  } finally {
    await Promise.allSettled(running);
  }
}
