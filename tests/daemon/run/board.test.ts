import { describe, expect, it } from 'vitest';
import { NightBoard } from '../../../daemon/run/board.ts';
import type { FeedMessage } from '../../../daemon/server/index.ts';
import type { FlakeView, RunView } from '../../../daemon/server/messages.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { ShelfInMemory } from '../../support/flakeShelf.ts';

/** Protects: the board holds no flakes, and a page that opens late is still told of every one, in pieces of a bounded size. */

const run: RunView = {
  runId: 'r', title: 't', operator: 'm.o.', instrument: 'i', opticalPath: 'p', simulated: true, fieldWidthUm: 1, fieldHeightUm: 1, frameWidthPx: 1, frameHeightPx: 1,
  cameraToStageUm: [1, 0, 0, 1], chips: [], ladders: {}, calibrations: {}, light: { lamp: 'halogen', numericalAperture: 0.3, filter: 'none', pixelUm: 1 },
};

function view(id: string, verdict: Flake['verdict'], more: Partial<Flake> = {}): FlakeView {
  return { chipXUm: 0, chipYUm: 0, flake: { id, chip: 'A', bestTile: 0, tiles: [0], centreUm: { xUm: 0, yUm: 0 }, terraces: [], verdict, layers: null, usableUm: 0, areaUm2: 1, rank: 0, ...more } };
}

const residue = (id: string, more: Partial<Flake> = {}): FlakeView => view(id, 'rejected', { reject: 'offLayerCurve', ...more });
const sensorDust = (id: string): FlakeView => view(id, 'rejected', { reject: 'sensorDust' });

function begun(views: readonly FlakeView[]): { readonly board: NightBoard; readonly shelf: ShelfInMemory; readonly told: FeedMessage[] } {
  const [board, shelf] = [new NightBoard(), new ShelfInMemory(views)];
  board.show(run, [], shelf, []);
  const told: FeedMessage[] = [];
  board.subscribe((message) => told.push(message));
  return { board, shelf, told };
}

/** What a page knows that was told this much. */
function known(messages: Iterable<FeedMessage>, first: readonly FlakeView[] = []): ReadonlyMap<string, FlakeView> {
  const flakes = new Map(first.map((each) => [each.flake.id, each]));
  for (const message of messages) {
    if (message.type !== 'flakes') continue;
    for (const id of message.removed) flakes.delete(id);
    for (const each of message.changed) flakes.set(each.flake.id, each);
  }
  return flakes;
}

describe('a page that opens late', () => {
  it('is told of flagged flakes with the snapshot and of all others after it, a bounded number at a time', () => {
    const all = Array.from({ length: 500 }, (_, i) => (i % 10 === 0 ? view(`A-${i}`, 'flagged') : residue(`A-${i}`)));
    const { board } = begun(all);
    const { flakes } = board.snapshot();
    const pieces = [...board.rest()];
    expect(flakes.map(({ flake }) => flake.verdict)).toEqual(Array.from({ length: 50 }, () => 'flagged'));
    expect(known(pieces, flakes).size).toBe(500);
    expect(Math.max(...pieces.map((piece) => (piece.type === 'flakes' ? piece.changed.length : Infinity)))).toBeLessThanOrEqual(64);
  });

  it('knows each flake as it last was, whatever changes between two pieces', () => {
    const { board, shelf, told } = begun(Array.from({ length: 200 }, (_, i) => residue(`A-${i}`)));
    const { flakes } = board.snapshot();
    const heard: FeedMessage[] = [];
    const rest = board.rest();
    heard.push(rest.next().value as FeedMessage);
    // One already sent and one still to come are read anew, one of each is merged away, and one is found.
    for (const id of ['A-2', 'A-190']) shelf.take(id);
    board.setFlakes(shelf.put(view('A-1', 'flagged'), residue('A-150', { areaUm2: 7 }), view('A-new', 'thick')), ['A-2', 'A-190']);
    heard.push(...told, ...rest);
    const page = known(heard, flakes);
    expect(page.size).toBe(199);
    expect([page.get('A-1')?.flake.verdict, page.get('A-150')?.flake.areaUm2, page.get('A-new')?.flake.verdict, page.has('A-2'), page.has('A-190')]).toEqual(['flagged', 7, 'thick', false, false]);
  });
});

describe('the board', () => {
  it('reads no flake while a night goes on, and counts what is flagged', () => {
    const { board, shelf } = begun([view('A-1', 'flagged')]);
    shelf.read.length = 0;
    board.setFlakes(shelf.put(view('A-2', 'flagged'), residue('A-3')), []);
    board.setFlakes(shelf.put(residue('A-2')), ['A-3']);
    expect(shelf.read).toEqual([]);
    expect([board.flaggedCount, board.isFlagged('A-1'), board.isFlagged('A-2')]).toEqual([1, true, false]);
    board.setFlakes([], ['A-1', 'never there']);
    expect(board.flaggedCount).toBe(0);
  });

  it('tells nobody of dust on the sensor, and takes a flake off the page that turns out to be such', () => {
    const { board, shelf, told } = begun([sensorDust('A-1'), view('A-2', 'flagged')]);
    board.setFlakes(shelf.put(sensorDust('A-3')), []);
    expect(told).toEqual([]);
    board.setFlakes(shelf.put(sensorDust('A-2')), []);
    expect(told).toEqual([{ type: 'flakes', changed: [], removed: ['A-2'] }]);
    expect([board.flake('A-2'), [...board.rest()], board.flaggedCount]).toEqual([undefined, [], 0]);
    expect([...board.flakesOf('A')].length).toBe(3);
  });
});
