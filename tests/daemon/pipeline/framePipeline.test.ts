import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { FramePipeline } from '../../../daemon/pipeline/framePipeline.ts';

/** Protects: tile order, the bound, and that trouble stops commits without losing count. Laws of our own, no outside truth. */

interface Held {
  readonly item: number;
  release(): void;
  fail(): void;
}

function harness(bound: number) {
  const held: Held[] = [];
  const committed: number[] = [];
  const failures: unknown[] = [];
  let most = 0;
  const pipeline = new FramePipeline<number, number>({
    bound,
    process: (item) =>
      new Promise((resolve, reject) => {
        held.push({ item, release: () => resolve(item * 10), fail: () => reject(new Error(`frame ${item}`)) });
        most = Math.max(most, held.length);
      }),
    commit: async (item, result) => {
      expect(result).toBe(item * 10);
      committed.push(item);
    },
    failed: (error) => failures.push(error),
  });
  return { pipeline, held, committed, failures, most: () => most };
}

const turn = (): Promise<void> => new Promise((resolve) => setImmediate(resolve));

describe('the frame pipeline', () => {
  it('commits in the order of arrival, whatever the order in which workers end', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(fc.nat(), { minLength: 1, maxLength: 20 }), fc.integer({ min: 1, max: 5 }), async (picks, bound) => {
        const h = harness(bound);
        let sent = 0;
        for (const pick of picks) {
          while (sent < picks.length && !h.pipeline.full) h.pipeline.push(sent++);
          await turn();
          const at = pick % h.held.length;
          h.held.splice(at, 1)[0]?.release();
          await turn();
        }
        for (const left of h.held.splice(0)) left.release();
        await h.pipeline.drained();
        expect(h.committed).toEqual([...Array(sent).keys()]);
        expect(h.most()).toBeLessThanOrEqual(bound);
      }),
      { numRuns: 50 },
    );
  });

  it('refuses one more than its bound and has room again after a commit', async () => {
    const h = harness(2);
    h.pipeline.push(0);
    h.pipeline.push(1);
    expect(() => h.pipeline.push(2)).toThrow(RangeError);
    const room = h.pipeline.room();
    h.held[0]?.release();
    await room;
    expect(h.pipeline.full).toBe(false);
  });

  it('commits nothing after the first trouble, tells it once, and still drains', async () => {
    const h = harness(4);
    for (const item of [0, 1, 2]) h.pipeline.push(item);
    h.held[0]?.release();
    h.held[1]?.fail();
    h.held[2]?.release();
    await h.pipeline.drained();
    expect(h.committed).toEqual([0]);
    expect(h.failures).toHaveLength(1);
  });
});
