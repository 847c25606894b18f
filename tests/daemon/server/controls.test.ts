import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { ANSWER_MS, endsMs, FREE, GONE_MS, holds, step, UNUSED_MS } from '../../../daemon/server/controls.ts';
import type { ControlsEvent, ControlsState } from '../../../daemon/server/controls.ts';

/** Protects: one browser at a time has the controls; nobody loses them while at work, and nobody keeps them by going home. */

const take = (browser: string): ControlsEvent => ({ type: 'take', by: { browser, name: browser.toUpperCase() } });
/** The state after events at their times. */
const after = (...events: readonly (readonly [atMs: number, ControlsEvent])[]): ControlsState => events.reduce((state: ControlsState, [atMs, event]) => step(state, event, atMs), FREE);
const at = (ms: number): readonly [number, ControlsEvent] => [ms, { type: 'time' }];

describe('the controls', () => {
  it('are taken when free, and run out unused', () => {
    expect(holds(after([0, take('a')]), 'a')).toBe(true);
    expect(after([0, take('a')], at(UNUSED_MS - 1)).holder?.browser).toBe('a');
    expect(after([0, take('a')], at(UNUSED_MS))).toEqual(FREE);
    expect(after([0, take('a')], [1000, { type: 'use', browser: 'a' }], at(UNUSED_MS)).holder?.browser).toBe('a');
  });

  it('are given up after a minute when the browser goes, and kept when it comes back', () => {
    expect(after([0, take('a')], [10, { type: 'left', browser: 'a' }], at(10 + GONE_MS - 1)).holder?.browser).toBe('a');
    expect(after([0, take('a')], [10, { type: 'left', browser: 'a' }], at(10 + GONE_MS))).toEqual(FREE);
    expect(after([0, take('a')], [10, { type: 'left', browser: 'a' }], [20, { type: 'came', browser: 'a' }], at(20 + 2 * GONE_MS)).holder?.browser).toBe('a');
  });

  it('pass to who asked when the holder neither answers nor acts', () => {
    expect(after([0, take('a')], [10, take('b')], at(10 + ANSWER_MS - 1)).holder?.browser).toBe('a');
    expect(after([0, take('a')], [10, take('b')], at(10 + ANSWER_MS))).toEqual({ holder: { browser: 'b', name: 'B', sinceMs: 10 + ANSWER_MS, usedMs: 10 + ANSWER_MS } });
    for (const type of ['keep', 'use'] as const) expect(after([0, take('a')], [10, take('b')], [20, { type, browser: 'a' }], at(10 + ANSWER_MS)).holder?.browser).toBe('a');
  });

  it('go to who asked when they are given up, and to nobody whose wish was taken back', () => {
    expect(after([0, take('a')], [10, take('b')], [20, { type: 'giveUp', browser: 'a' }]).holder?.browser).toBe('b');
    for (const type of ['giveUp', 'left'] as const) expect(after([0, take('a')], [10, take('b')], [20, { type, browser: 'b' }], [30, { type: 'giveUp', browser: 'a' }])).toEqual(FREE);
  });

  it('are not jumped for: who asks second does not push out who asked first', () => {
    expect(after([0, take('a')], [10, take('b')], [20, take('c')]).asker?.browser).toBe('b');
  });

  const browser = fc.constantFrom('a', 'b', 'c');
  const event: fc.Arbitrary<ControlsEvent> = fc.oneof(
    browser.map(take),
    fc.record({ type: fc.constantFrom('giveUp' as const, 'keep' as const, 'use' as const, 'left' as const, 'came' as const), browser }),
    fc.constant<ControlsEvent>({ type: 'time' }),
  );

  it('whatever happens: they change hands only by the rules, and always end', () => {
    fc.assert(
      fc.property(fc.array(fc.tuple(fc.integer({ min: 0, max: 90_000 }), event), { maxLength: 80 }), (steps) => {
        let nowMs = 0;
        let state: ControlsState = FREE;
        for (const [gapMs, next] of steps) {
          nowMs += gapMs;
          const before = state;
          const ended = endsMs(before);
          state = step(before, next, nowMs);
          if (state.asker) expect(state.holder).toBeDefined();
          if (state.asker) expect(state.asker.browser).not.toBe(state.holder?.browser);
          const passed = before.holder && state.holder?.browser !== before.holder.browser;
          if (passed) expect((ended !== undefined && nowMs >= ended) || (next.type === 'giveUp' && next.browser === before.holder.browser)).toBe(true);
          const end = endsMs(state);
          if (end !== undefined) expect(end - nowMs).toBeLessThanOrEqual(UNUSED_MS);
        }
        expect(step(step(state, { type: 'time' }, nowMs + UNUSED_MS), { type: 'time' }, nowMs + 2 * UNUSED_MS)).toEqual(FREE);
      }),
    );
  });
});
