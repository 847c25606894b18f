import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { FlakeView } from '../../daemon/server/messages.ts';
import { uncovered } from '../../ui/map/declutter.ts';
import { countByLayers, listed, neighbour } from '../../ui/state/flakeList.ts';
import { answered, asked, forgotten, isWaiting, NO_REQUESTS } from '../../ui/state/requests.ts';
import { flakeView } from './support.ts';

const flakes = (...views: FlakeView[]): ReadonlyMap<string, FlakeView> => new Map(views.map((view) => [view.flake.id, view]));
const night = flakes(flakeView('a', 1, 3), flakeView('b', 2, 9), flakeView('c', 1, 5), flakeView('d', null, 8), flakeView('e', null, 99, 'rejected'), flakeView('f', 1, 5));
const ids = (list: readonly FlakeView[]): string[] => list.map((view) => view.flake.id);

describe('the list of flakes', () => {
  it('is best first, ties by name, flagged only', () => {
    expect(ids(listed(night, 'all'))).toEqual(['b', 'c', 'f', 'a']);
  });

  it('shows one layer number, what is too thick, or what was rejected, and rejected ones only then', () => {
    expect(ids(listed(night, 1))).toEqual(['c', 'f', 'a']);
    expect(ids(listed(night, 'thick'))).toEqual(['d']);
    expect(ids(listed(night, 'rejected'))).toEqual(['e']);
    expect(ids(listed(night, 7))).toEqual([]);
  });

  it('counts what each filter would show, always for the same filters', () => {
    const counts = countByLayers(night);
    expect(counts.map(({ filter }) => filter)).toEqual([1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 'thick']);
    for (const { filter, count } of counts) expect(count).toBe(listed(night, filter).length);
  });

  it('goes from flake to flake and round at the ends', () => {
    const list = listed(night, 'all');
    expect(neighbour(list, null, 1)).toBe('b');
    expect(neighbour(list, null, -1)).toBe('a');
    expect(neighbour(list, 'b', 1)).toBe('c');
    expect(neighbour(list, 'a', 1)).toBe('b');
    expect(neighbour(list, 'b', -1)).toBe('a');
    expect(neighbour(list, 'e', 1)).toBe('b');
    expect(neighbour([], 'a', 1)).toBeNull();
  });
});

describe('marks that would cover each other', () => {
  const place = fc.record({ x: fc.double({ min: 0, max: 300, noNaN: true }), y: fc.double({ min: -100, max: 200, noNaN: true }) });
  it('keeps exactly what going through all pairs, best first, would keep', () => {
    fc.assert(
      fc.property(fc.array(place, { maxLength: 60 }), (spots) => {
        const kept: { x: number; y: number }[] = [];
        for (const spot of spots) if (!kept.some((other) => Math.abs(other.x - spot.x) < 24 && Math.abs(other.y - spot.y) < 24)) kept.push(spot);
        expect([...uncovered(spots, 24)]).toEqual(kept);
      }),
    );
  });
});

describe('what was asked', () => {
  const sent = asked(asked(NO_REQUESTS, 'r1', 'there'), 'r2', 'now');
  it('waits for its own answer', () => {
    const after = answered(sent, { type: 'answer', seq: 1, request: 'r2' });
    expect([isWaiting(after, 'there'), isWaiting(after, 'now')]).toEqual([true, false]);
    expect(isWaiting(forgotten(sent), 'there')).toBe(false);
  });
  it('keeps a refusal at the place that asked, until it is asked again', () => {
    const refused = answered(sent, { type: 'refused', seq: 1, request: 'r1', code: 'notWhileScanning', sentence: 'The stage is scanning.' });
    expect(refused.refusals).toEqual({ there: { code: 'notWhileScanning', sentence: 'The stage is scanning.' } });
    expect(asked(refused, 'r3', 'there').refusals).toEqual({});
  });
  it('does not mind answers to what it never asked', () => {
    expect(answered(sent, { type: 'answer', seq: 1, request: 'ping 1' })).toBe(sent);
  });
});
