import { readFileSync } from 'node:fs';
import { describe, expect, it, vi } from 'vitest';
import { slowMachineMs } from '../support/tinyNight.ts';
import { drawingOf, problemsOf } from './invariants.ts';
import { NightPlayer } from './playNight.ts';
import type { NightStory } from './story.ts';

vi.setConfig({ testTimeout: slowMachineMs });

/**
 * Protects: focus that jumps in the middle of a chip costs neither a tile nor a flake, within the range that is searched or beyond it, and a
 * chip that has none any more is left out by name; after a bounded number of searches. All else that may happen is played by `npm run nights`.
 */

const drawing = drawingOf(readFileSync('DEVELOPERS.md', 'utf8'));
const player = new NightPlayer();
/** In the middle of the scan of its one chip. */
const [seed, atS] = [0, 17.4];

const jump = (amount: number): Promise<NightStory> => player.play(seed, { seed, strikes: [{ kind: 'jumpFocus', atS, amount }] });
const eventsOf = ({ attempts }: NightStory, wanted: RegExp): readonly string[] => attempts.flatMap(({ events }) => events.flatMap(({ text }) => (wanted.test(text) ? [text] : [])));

describe('focus that jumps in the middle of a chip', () => {
  it.each<[number, RegExp, number]>([
    [8, /focus jumped by (7|8)\S* µm.*No tile was lost.*Taken again: \d+ tile/, 1],
    [30, /focus jumped by (29|30|31)\S* µm.*No tile was lost.*Taken again: \d+ tile/, 1],
    [-80, /Focus on chip V-1 had jumped by −(79|80)\S* µm/, 2],
  ])('by %i um is noticed, and the tiles are taken again', async (um, told, mappings) => {
    const story = await jump(um);
    expect(problemsOf(story, drawing)).toEqual([]);
    expect(story.tiles.filter(({ outcome, reason }) => outcome !== 'done' || reason !== undefined)).toEqual([]);
    expect(eventsOf(story, told)).toHaveLength(1);
    expect(eventsOf(story, /focus found at/)).toHaveLength(mappings);
    expect(story.attempts).toHaveLength(1);
  });

  it('out of all reach leaves the rest of the chip out by name', async () => {
    const story = await jump(150);
    expect(problemsOf(story, drawing)).toEqual([]);
    const left = story.tiles.filter(({ outcome }) => outcome === 'skipped');
    expect(new Set(left.map(({ reason }) => reason))).toEqual(new Set(['focusNotFound']));
    expect(left.length).toBeGreaterThan(0);
    expect(left.length).toBeLessThan(story.planned.length);
    expect(eventsOf(story, /Focus was lost on chip V-1/)).toHaveLength(1);
    expect(story.attempts.map(({ end }) => end)).toEqual(['finished']);
  });
});
