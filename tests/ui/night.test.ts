import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { ServerMessage } from '../../daemon/server/messages.ts';
import { EMPTY_NIGHT, follow, MOST_EVENTS } from '../../ui/state/night.ts';
import type { NightView } from '../../ui/state/night.ts';
import { flakeView, progressView, runView, tileView } from './support.ts';

const snapshot = (seq: number, more: Partial<Extract<ServerMessage, { type: 'snapshot' }>> = {}): ServerMessage => ({ type: 'snapshot', seq, run: runView(), tiles: [tileView(0), tileView(1)], flakes: [flakeView('a', 1, 5)], progress: progressView(), events: [{ atMs: 1, kind: 'k', text: 'first' }], ...more });
const all = (...messages: ServerMessage[]): NightView => messages.reduce(follow, EMPTY_NIGHT);

describe('the night as a browser follows it', () => {
  it('begins with a snapshot and takes each change in', () => {
    const night = all(
      snapshot(1),
      { type: 'tile', seq: 2, tile: { ...tileView(1, 'done'), picture: '/pictures/tiles/1.webp' } },
      { type: 'flakes', seq: 3, changed: [flakeView('b', 2, 7)], removed: ['a'] },
      { type: 'event', seq: 4, event: { atMs: 9, kind: 'k', text: 'second' } },
      { type: 'progress', seq: 5, progress: progressView({ tilesDone: 1 }) },
    );
    expect(night.tiles.map((tile) => tile?.state)).toEqual(['planned', 'done']);
    expect([...night.flakes.keys()]).toEqual(['b']);
    expect(night.events.map((event) => event.text)).toEqual(['second', 'first']);
    expect(night.progress?.tilesDone).toBe(1);
    expect(night).toMatchObject({ seq: 5, gap: false });
  });

  it('believes nothing after a gap until a snapshot comes, which puts all right', () => {
    const before = all(snapshot(1));
    const gap = follow(before, { type: 'tile', seq: 3, tile: tileView(0, 'done') });
    expect(gap).toEqual({ ...before, gap: true });
    expect(follow(gap, { type: 'tile', seq: 4, tile: tileView(0, 'done') })).toBe(gap);
    const after = follow(gap, snapshot(5, { tiles: [tileView(0, 'done')] }));
    expect(after).toMatchObject({ seq: 5, gap: false });
    expect(after.tiles[0]?.state).toBe('done');
  });

  it('does not touch parts that did not change, so that nothing is drawn again for them', () => {
    const before = all(snapshot(1));
    const after = follow(before, { type: 'progress', seq: 2, progress: progressView({ tilesDone: 1 }) });
    expect(after.tiles).toBe(before.tiles);
    expect(after.flakes).toBe(before.flakes);
    expect(after.run).toBe(before.run);
  });

  it('starts afresh with another run, and keeps the live picture of the same one', () => {
    const live = follow(all(snapshot(1)), { type: 'live', seq: 2, picture: '/live', centreUm: { xUm: 0, yUm: 0 }, zUm: 1, atMs: 3, flakeId: 'a' });
    expect(follow(live, snapshot(3)).live?.picture).toBe('/live');
    expect(follow(live, snapshot(3, { run: runView('r2') })).live).toBeNull();
    const other = follow(live, { type: 'run', seq: 3, run: runView('r2') });
    expect(other).toMatchObject({ tiles: [], live: null, seq: 3, run: { runId: 'r2' } });
  });

  it('keeps a bounded number of events, the newest', () => {
    let night = all(snapshot(1));
    for (let i = 0; i < MOST_EVENTS + 50; i += 1) night = follow(night, { type: 'event', seq: i + 2, event: { atMs: i, kind: 'k', text: String(i) } });
    expect(night.events.length).toBe(MOST_EVENTS);
    expect(night.events[0]?.text).toBe(String(MOST_EVENTS + 49));
  });

  it('ends with the same flakes as a plain map that is told the same', () => {
    const change = fc.record({ changed: fc.array(fc.tuple(fc.constantFrom('a', 'b', 'c', 'd'), fc.nat(9))), removed: fc.array(fc.constantFrom('a', 'b', 'c', 'd')) });
    fc.assert(
      fc.property(fc.array(change), (changes) => {
        const told: Record<string, number> = { a: 5 };
        let night = all(snapshot(1));
        changes.forEach(({ changed, removed }, i) => {
          removed.forEach((id) => delete told[id]);
          changed.forEach(([id, rank]) => (told[id] = rank));
          night = follow(night, { type: 'flakes', seq: i + 2, changed: changed.map(([id, rank]) => flakeView(id, 1, rank)), removed });
        });
        expect(Object.fromEntries([...night.flakes].map(([id, view]) => [id, view.flake.rank]))).toEqual(told);
      }),
    );
  });
});
