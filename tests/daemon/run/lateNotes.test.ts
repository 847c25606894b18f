import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { NightjarError } from '../../../daemon/errors/index.ts';
import { LateNotes } from '../../../daemon/run/lateNotes.ts';

/** Protects: what a full disk refuses of a night's story is told once there is room, in order and once. A law of our own. */

/** Writes the numbers 0, 1, 2, ... to a disk that is full at each of them or is not. */
function writeAll(fullAt: readonly boolean[], refusal: () => Error) {
  const kept: number[] = [];
  const refusals: unknown[] = [];
  let isFull = false;
  const notes = new LateNotes((error) => refusals.push(error));
  fullAt.forEach((isFullNow, n) => {
    isFull = isFullNow;
    notes.write(() => {
      if (isFull) throw refusal();
      kept.push(n);
    });
  });
  return { kept, refusals };
}
const upTo = (end: number): number[] => Array.from({ length: end }, (_, n) => n);

describe('notes of a night', () => {
  it('wait while the disk is full, and are all there, in order, at the next that goes through', () => {
    fc.assert(
      fc.property(fc.array(fc.boolean(), { maxLength: 60 }), (fullAt) => {
        const { kept, refusals } = writeAll(fullAt, () => new NightjarError('diskFull', { directory: 'data' }));
        expect(kept).toEqual(upTo(fullAt.lastIndexOf(false) + 1));
        expect(refusals).toHaveLength(fullAt.filter(Boolean).length);
      }),
    );
  });

  it('are as many as there is patience for: the oldest are given up first', () => {
    const { kept } = writeAll([...upTo(300).map(() => true), false], () => new NightjarError('diskFull', { directory: 'data' }));
    expect(kept).toEqual(upTo(301).slice(-201));
  });

  it('that could never be written hold no other up', () => {
    expect(writeAll([false, true, false], () => new Error('no such night')).kept).toEqual([0, 2]);
  });
});
