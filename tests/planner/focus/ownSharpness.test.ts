import { describe, expect, it } from 'vitest';
import { addKnownEdges, NO_EDGES, runEnded, runForgotten, watchEdges, type EdgeWatch } from '../../../planner/focus/ownSharpness.ts';
import { energyMap, type EnergyMap } from '../../../planner/focus/texture.ts';
import { noiseGenerator } from '../frames/wavePicture.ts';

/** Protects: a frame that shows an edge as sharp as those in focus proves focus; one that shows none says nothing, unless too many do so in a row for this chip. */

const [WIDTH, HEIGHT] = [320, 208];

/** A square at a place, its edges blurred by so much, in noise; bare when there is none. */
function frame(seed: number, square?: { readonly atPx: number; readonly sigmaPx: number }): EnergyMap {
  const next = noiseGenerator(seed);
  const edge = (away: number, sigmaPx: number): number => 1 / (1 + Math.exp((-1.7 * away) / sigmaPx));
  const data = new Uint8Array(WIDTH * HEIGHT);
  for (let y = 0; y < HEIGHT; y++) {
    for (let x = 0; x < WIDTH; x++) {
      const isInside = square !== undefined && y > 60 && y < 140;
      const depth = isInside ? 40 * (edge(x - square.atPx, square.sigmaPx) - edge(x - square.atPx - 60, square.sigmaPx)) : 0;
      data[y * WIDTH + x] = 120 - depth + 2 * next();
    }
  }
  return energyMap({ data, widthPx: WIDTH, heightPx: HEIGHT, channels: 1 }, 16);
}

/** Places that lie in other cells from frame to frame, as a moving stage has it. */
const placeOf = (n: number): number => 40 + 37 * (n % 5);
const sharp = (n: number): EnergyMap => frame(n, { atPx: placeOf(n), sigmaPx: 1.2 });
const known = [1, 2, 3].reduce<EdgeWatch>((watch, n) => addKnownEdges(watch, sharp(n)), NO_EDGES);

function judge(frames: readonly EnergyMap[], first = known): { readonly said: readonly string[]; readonly watch: EdgeWatch } {
  let watch = first;
  const said = frames.map((map) => {
    const seen = watchEdges(watch, map);
    ({ watch } = seen);
    return seen.own;
  });
  return { said, watch };
}

const bare = (count: number, from = 100): readonly EnergyMap[] => Array.from({ length: count }, (_, n) => frame(from + n));

describe('a frame by its own edges', () => {
  it('is sharp in focus, and not when blurred', () => {
    expect(judge([4, 5, 6, 7].map(sharp)).said).toEqual(Array(4).fill('sharp'));
    for (const sigmaPx of [4, 8]) expect(judge([frame(9, { atPx: 90, sigmaPx })]).said).toEqual(['dull']);
  });

  it('says nothing when it is bare, and is no proof', () => {
    expect(judge(bare(1)).said).toEqual(['dull']);
    expect(watchEdges(known, frame(50)).isBlurredOrBare).toBe(true);
  });

  it('says nothing where no frame in focus showed an edge', () => {
    expect(judge([sharp(4), ...bare(30)], addKnownEdges(NO_EDGES, frame(1))).said).toEqual(Array(31).fill('dull'));
  });

  it('is doubted when too many in a row show nothing sharp, where the others did', () => {
    const { said } = judge([...[4, 5, 6, 7, 8, 9].map(sharp), ...bare(6)]);
    expect(said.indexOf('unlikely')).toBeGreaterThan(6);
  });

  it('is doubted ever less often on a chip that is bare', () => {
    let watch = known;
    let doubts = 0;
    for (const map of bare(300)) {
      const seen = watchEdges(watch, map);
      ({ watch } = seen);
      if (seen.own !== 'unlikely') continue;
      doubts++;
      watch = runEnded(watch);
    }
    expect(doubts).toBeGreaterThan(0);
    expect(doubts).toBeLessThan(8);
  });

  it('is not held against the chip when focus had jumped', () => {
    const { watch } = judge([...[4, 5, 6].map(sharp), ...bare(4)]);
    expect(runForgotten(watch)).toMatchObject({ frames: 3, sharp: 3, run: 0 });
  });

  it('does not take dust on the sensor, at the same place of every frame, for an edge in focus', () => {
    const dust = (n: number): EnergyMap => frame(n, { atPx: 90, sigmaPx: 1.2 });
    const { said } = judge(Array.from({ length: 12 }, (_, n) => dust(n)), known);
    expect(said.slice(6)).not.toContain('sharp');
  });
});
