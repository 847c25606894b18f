import { cpSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { verifyRecords } from '../../../daemon/records/index.ts';
import { randomStream } from '../../../simulators/random.ts';
import type { Flake } from '../../../planner/flakes/types.ts';
import { flakeDifferences } from '../../support/sameFlakes.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a night that was cut off goes on with each tile recorded exactly once and the flakes of an unbroken one. A law of our own. */

const nights = new TinyNights();
afterAll(() => nights.clear());

const seed = 20_260_117;
const hourMs = 3_600_000;

/** Copies of the data folder as it stood at moments of the unbroken night: what a process killed there would have left. */
const cutOff: { readonly folder: string; readonly recorded: number }[] = [];
let unbroken: TinyNight;
let found: readonly Flake[];

beforeAll(async () => {
  unbroken = nights.make();
  const random = randomStream(seed, 'resume', 'kill');
  // One message in about six is a tile; from the first light to the last tile there are some hundred.
  const moments = new Set(Array.from({ length: 3 }, () => 10 + random.below(120)));
  let said = 0;
  unbroken.observatory.board.subscribe((message) => {
    const isLastTile = message.type === 'tile' && unbroken.records.tileCount(unbroken.opened.runId) === unbroken.opened.plan.tileCount;
    if (!moments.has(++said) && !isLastTile) return;
    const folder = nights.folder();
    cpSync(unbroken.folder, folder, { recursive: true });
    cutOff.push({ folder, recorded: unbroken.records.tileCount(unbroken.opened.runId) });
  });
  await unbroken.run();
  found = unbroken.records.flakes(unbroken.opened.runId);
});

/** Goes on with the night of a folder an hour later and holds it against the unbroken one. */
async function resumeAndCompare(folder: string): Promise<void> {
  const night = nights.make({ folder, resume: true, startMs: startMs + hourMs });
  const before = night.records.tiles(night.opened.runId);
  expect((await night.run()).phase).toBe('finished');
  const tiles = night.records.tiles(night.opened.runId);
  expect(tiles.map(({ tile, outcome }) => [tile, outcome])).toEqual(Array.from({ length: night.opened.plan.tileCount }, (_, n) => [n, 'done']));
  expect(tiles.filter(({ takenAtMs }) => takenAtMs < startMs + hourMs)).toEqual(before);
  const { leastUsableUm } = night.opened.sheet.lookFor;
  expect(flakeDifferences(night.records.flakes(night.opened.runId), found, leastUsableUm)).toEqual({ lost: [], doubledOrNew: [] });
  expect(await verifyRecords(night.records)).toMatchObject({ sound: true, problems: [] });
  await night.close();
}

describe('a night that was killed', () => {
  it('has flakes to lose, and was cut off in its middle', () => {
    expect(found.filter(({ verdict }) => verdict === 'flagged').length).toBeGreaterThan(4);
    expect(cutOff.some(({ recorded }) => recorded > 0 && recorded < unbroken.opened.plan.tileCount)).toBe(true);
    expect(cutOff.at(-1)?.recorded).toBe(unbroken.opened.plan.tileCount);
  });

  it('goes on from where it was, wherever that was', async () => {
    for (const { folder } of cutOff) await resumeAndCompare(folder);
  });
});

describe('a night that was stopped', () => {
  it('parks with what it has, and goes on', async () => {
    const stopAfter = 1 + randomStream(seed, 'resume', 'stop').below(unbroken.opened.plan.tileCount - 2);
    const night = nights.make();
    night.observatory.board.subscribe((message) => {
      if (message.type === 'tile' && night.records.tileCount(night.opened.runId) === stopAfter) void night.observatory.stop();
    });
    const machine = await night.run();
    expect(machine).toMatchObject({ phase: 'parked', cause: 'stopAsked' });
    const { instrument } = night.opener;
    expect(await instrument.focus.position()).toBeGreaterThanOrEqual(night.opened.config.limits.safeHeightUm);
    expect(await instrument.lamp.intensity()).toBe(0);
    const recorded = night.records.tileCount(night.opened.runId);
    expect(recorded).toBeGreaterThanOrEqual(stopAfter);
    expect(recorded).toBeLessThan(night.opened.plan.tileCount);
    expect(night.records.run(night.opened.runId)?.state).toBe('parked');
    await night.close();
    await resumeAndCompare(night.folder);
  });
});
