import { readFileSync } from 'node:fs';
import { describe, expect, it } from 'vitest';
import type { Flake } from '../../planner/flakes/types.ts';
import type { AttemptStory } from './attempt.ts';
import { drawingOf, problemsOf } from './invariants.ts';
import type { NightStory } from './story.ts';

/** Protects: the promises that nights are held to can be seen to be broken. Each broken night here is a good one with one thing wrong. */

const drawing = drawingOf(readFileSync('DEVELOPERS.md', 'utf8'));

const call = { layers: 2, probability: 0.99, probabilities: [], misfit: 1 };
const terrace = { outlineUm: [], areaUm2: 200, contrast: [0.1], contrastError: [0.01], edgeWidthRatio: 1, unevenness: 1, inscribedUm: 9, inscribedCentreUm: { xUm: 100, yUm: 100 }, saturatedShare: 0, call };
const flake: Flake = { id: 'A-1', chip: 'A', bestTile: 1, tiles: [0, 1], centreUm: { xUm: 100, yUm: 100 }, terraces: [terrace], verdict: 'flagged', layers: 2, usableUm: 9, areaUm2: 200, rank: 1 };

/** Others on the same chip. */
const others = [1, 2, 3, 4, 5, 6, 7].map((n): Flake => ({ ...flake, id: `A-${n + 10}`, centreUm: { xUm: 100, yUm: 100 + 50 * n } }));
const all = [flake, ...others];

const finished: AttemptStory = {
  end: 'finished',
  cause: 'done',
  lastedS: 40,
  events: [{ atMs: 1, kind: 'run', text: 'Scanning.' }],
  struck: {},
  forbidden: [],
  left: { atMs: 40_000, stageUm: { xUm: 0, yUm: 0 }, zUm: 3000, objective: 0, lampIntensity: 0 },
  odd: [],
};

const good: NightStory = {
  script: { seed: 1, strikes: [] },
  variation: 0,
  attempts: [finished],
  planned: [0, 1, 2].map((tile) => ({ tile, chip: 'A' })),
  safeHeightUm: 3000,
  tiles: [0, 1, 2].map((tile) => ({ tile, chip: 'A', outcome: 'done' })),
  transitions: [
    { atMs: 0, state: 'preflight', cause: 'begun' },
    { atMs: 1, state: 'scanning', cause: 'prepared' },
    { atMs: 2, state: 'finished', cause: 'done' },
  ],
  flakes: all,
  twinFlakes: [all, all],
  verified: { sound: true, filesChecked: 3, rowsRead: 12, problems: [], leftovers: [], orphans: [], setAside: [], isInUse: false },
  fingerprint: '',
};

const problems = (change: Partial<NightStory>) => problemsOf({ ...good, ...change }, drawing);
const attempt = (change: Partial<AttemptStory>) => ({ attempts: [{ ...finished, ...change }] });
const moved = (um: number, change: Partial<Flake> = {}): Flake => ({ ...flake, id: 'A-2', centreUm: { xUm: 100 + um, yUm: 100 }, ...change });

describe('the promises of a night', () => {
  it('are kept by a good one', () => {
    expect(drawing.size).toBeGreaterThan(15);
    expect(problems({})).toEqual([]);
  });

  it.each<[string, Partial<NightStory>, RegExp]>([
    ['a tile that is not recorded', { tiles: good.tiles.slice(1) }, /tile 0 is not recorded/],
    ['a tile that is recorded twice', { tiles: [...good.tiles, ...good.tiles.slice(2)] }, /tile 2 is recorded twice/],
    ['a tile that nobody planned', { planned: good.planned.slice(1) }, /tile 0 was never planned/],
    ['a tile left out without a reason', { tiles: [{ tile: 0, chip: 'A', outcome: 'skipped' }, ...good.tiles.slice(1)], twinFlakes: [], flakes: [] }, /tile 0 was skipped without a reason/],
    ['a flake that is lost', { flakes: others }, /lost flake: A: 2 layers at 100, 100/],
    ['a flake too far off', { flakes: [moved(8), ...others] }, /lost flake/],
    ['a flake that is surely read otherwise', { flakes: [...others, { ...flake, layers: 3, terraces: [{ ...terrace, call: { ...call, layers: 3 } }] }] }, /lost flake/],
    ['a flake that is there twice', { flakes: [...all, moved(2)] }, /doubled flake/],
    ['a flake that the fault-free night has not', { flakes: [...all, moved(200)] }, /new flake/],
    ['a move that was forbidden', attempt({ forbidden: ['{"device":"stage"}'] }), /forbidden: \{"device":"stage"\}/],
    ['an objective that is left low', attempt({ left: { ...finished.left, zUm: 1000 } }), /objective at 1000 um/],
    ['a lamp that is left on', attempt({ left: { ...finished.left, lampIntensity: 0.6 } }), /lamp at 0.6/],
    ['a run that hangs', attempt({ end: 'hung', cause: 'not over' }), /hung/],
    ['a run that fails in itself', attempt({ end: 'failed', cause: 'internal' }), /failed: internal/],
    ['a park without a cause', { attempts: [{ ...finished, end: 'parked', cause: '' }, finished] }, /without a cause/],
    ['a night that does not finish when all is mended', attempt({ end: 'parked', cause: 'noFrame' }), /still parked/],
    ['a process that is ended before the night is, and not begun again', { ...attempt({ end: 'died', cause: 'kill' }), transitions: good.transitions.slice(0, 2) }, /still died/],
    ['records that do not verify', { verified: { ...good.verified, sound: false, problems: [{ kind: 'fileMissing', where: 'tiles/1.webp', what: 'it is not there' }] } }, /fileMissing tiles\/1.webp/],
    ['a change of state that no arrow leads to', { transitions: [...good.transitions, { atMs: 3, state: 'scanning', cause: 'goOnAsked' }] }, /from finished to scanning/],
    ['a change of state without a cause', { transitions: [{ atMs: 0, state: 'preflight', cause: '' }] }, /without a cause/],
    ['a fault that nobody was told of', attempt({ struck: { dropFrame: 2 } }), /dropFrame struck 2 times, and nobody was told/],
    ['what the teller did not foresee', attempt({ odd: ['pause: TypeError'] }), /pause: TypeError/],
  ])('are broken by %s', (_, change, expected) => {
    expect(problems(change).join('\n')).toMatch(expected);
  });

  it.each<[string, Partial<NightStory>]>([
    ['a flake on a tile that was skipped by name', { flakes: others, tiles: [{ tile: 0, chip: 'A', outcome: 'skipped', reason: 'noFrame' }, ...good.tiles.slice(1)] }],
    ['a flake too small to be sure of', { flakes: others, twinFlakes: [[{ ...flake, usableUm: 3 }, ...others]] }],
    ['another layer number where the fault-free nights do not agree', { flakes: [...others, { ...flake, layers: 3, terraces: [{ ...terrace, call: { ...call, layers: 3 } }] }], twinFlakes: [all, [{ ...flake, layers: 3 }, ...others]] }],
    ['the same flake a little aside', { flakes: [moved(3), ...others] }],
    ['a device that could not be made safe, when that was told', attempt({ left: { ...finished.left, zUm: 1000 }, events: [{ atMs: 1, kind: 'trouble', text: 'The focus could not be made safe. Go and look at the instrument.' }] })],
    ['an objective low when the process was ended, and gone on with', { attempts: [{ ...finished, end: 'died', cause: 'kill', left: { ...finished.left, zUm: 1000, lampIntensity: 0.6 } }, finished] }],
    ['a process that is ended when the night is over already', attempt({ end: 'died', cause: 'kill' })],
    ['a fault that was told of', attempt({ struck: { dropFrame: 2 }, events: [{ atMs: 1, kind: 'trouble', text: 'The camera gave no frame.' }] })],
    ['a late answer that nobody was told of', attempt({ struck: { 'late:stage': 2 } })],
    ['a night that goes on from anywhere', { transitions: [...good.transitions.slice(0, 2), { atMs: 3, state: 'preflight', cause: 'resumed' }, { atMs: 4, state: 'scanning', cause: 'prepared' }] }],
  ])('are kept with %s', (_, change) => {
    expect(problems(change)).toEqual([]);
  });
});
