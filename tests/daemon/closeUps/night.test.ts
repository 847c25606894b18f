import { existsSync } from 'node:fs';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { closeUpCandidates } from '../../../daemon/closeUps/choice.ts';
import { closeUpContext, type CloseUpContext } from '../../../daemon/closeUps/path.ts';
import { verifyRecords } from '../../../daemon/records/index.ts';
import type { CloseUpRecord } from '../../../daemon/records/types.ts';
import { nightContext } from '../../../daemon/run/context.ts';
import { fewTiles, tinyFiles, withCloseUps, type TinyChange } from '../../support/tinyFiles.ts';
import { inlinePool } from '../../support/inlinePool.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';
import pino from 'pino';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: after the last tile the best flakes are looked at again, in the time there is for it, and what is seen is recorded. Laws of our own. */

const nights = new TinyNights();
afterAll(() => nights.clear());

const budgetMin = 0.45;
const wanted: TinyChange = (instrument, sheet) => {
  fewTiles(instrument, sheet);
  withCloseUps(instrument, sheet);
  // The usual tiny frame would hold no flake at this magnification.
  Object.assign(instrument.camera, { widthPx: 512, heightPx: 416 });
  Object.assign((sheet as { closeUps?: object }).closeUps ?? {}, { budgetMin, focusRangeUm: 4, stackFrames: 3, stackStepUm: 0.8 });
};
const files = tinyFiles(wanted);

let night: TinyNight;
let closeUps: readonly CloseUpRecord[];
/** What the page was told, in order. */
const sentences: string[] = [];

function done(all: readonly CloseUpRecord[]) {
  return all.filter((each) => each.outcome === 'done');
}

function contextOf({ opened, records, opener }: TinyNight): CloseUpContext {
  const context = closeUpContext(nightContext({ ...opened, records, pool: inlinePool(), log: pino({ enabled: false }), freeBytes: async () => 1e12, instrument: opener.instrument }));
  if (!context) throw new Error('the run sheet asks for close-ups');
  return context;
}

beforeAll(async () => {
  night = nights.make({ files });
  night.observatory.board.subscribe((message) => {
    if (message.type === 'progress') sentences.push(message.progress.sentence);
  });
  await night.run();
  closeUps = night.records.closeUps(night.opened.runId);
});

describe('a night with close-ups', () => {
  it('ends well, with the objective up and the lamp off', async () => {
    expect(night.records.run(night.opened.runId)?.state).toBe('finished');
    const { instrument } = night.opener;
    expect(await instrument.focus.position()).toBeGreaterThanOrEqual(night.opened.config.limits.safeHeightUm);
    expect(await instrument.lamp.intensity()).toBe(0);
    expect(await instrument.turret.position()).toBe(1);
  });

  it('takes them after the last tile, within their time', () => {
    const lastTileMs = Math.max(...night.records.tiles(night.opened.runId).map(({ takenAtMs }) => takenAtMs));
    expect(done(closeUps).length).toBeGreaterThan(2);
    for (const each of closeUps) expect(each.takenAtMs).toBeGreaterThan(lastTileMs);
    expect(closeUps.reduce((sum, each) => sum + each.tookMs, 0)).toBeLessThanOrEqual(budgetMin * 60_000);
  });

  it('has each flake in the middle of its picture, at the height of that objective', () => {
    const flakes = new Map(night.records.flakes(night.opened.runId).map((flake) => [flake.id, flake] as const));
    for (const each of done(closeUps)) {
      const flake = flakes.get(each.flakeId);
      const tile = flake && night.records.tile(night.opened.runId, flake.bestTile);
      const near = flake?.terraces.map(({ inscribedCentreUm: c }) => Math.hypot(c.xUm - each.centreUm.xUm, c.yUm - each.centreUm.yUm)) ?? [];
      // The parcentric offsets of 8 and 5 um are made up for; what is left is the stage's own error.
      expect(Math.min(...near)).toBeLessThan(4);
      // Focus of the 50x lies 30 um lower.
      expect(Math.abs(each.zUm - (tile?.zUm ?? NaN) + 30)).toBeLessThan(3);
      expect(each.sharpness).toBeGreaterThan(1.2 * each.leastSharpness);
    }
  });

  it('has their pictures on the disk, sound in its records, and on the page', async () => {
    expect(await verifyRecords(night.records)).toMatchObject({ sound: true, orphans: [], problems: [] });
    for (const { picture, flakeId } of done(closeUps)) {
      const shown = await sharp(join(night.folder, picture.file)).metadata();
      expect([shown.width, shown.height]).toEqual([picture.widthPx, picture.heightPx]);
      expect(existsSync(join(night.folder, picture.rawFile))).toBe(true);
      expect(night.observatory.board.flake(flakeId)?.closeUp).toMatchObject({ picture: `/pictures/${picture.file}`, optics: '50×/0.80' });
    }
  });

  it('finds the terraces again, and keeps the numbers that were sure', () => {
    const flakes = new Map(night.records.flakes(night.opened.runId).map((flake) => [flake.id, flake] as const));
    const pairs = done(closeUps).flatMap(({ flakeId, terraces }) => terraces.map((second) => ({ second, first: flakes.get(flakeId)?.terraces[second.terrace] })));
    const sure = pairs.filter(({ first }) => first && first.call.layers !== null && first.call.layers <= 3 && first.call.probability > 0.95 && first.areaUm2 > 30);
    expect(sure.length).toBeGreaterThan(1);
    for (const { first, second } of sure) expect(second.together.layers).toBe(first?.call.layers);
  });

  it('says what it does', () => {
    expect(sentences).toContain(`Looking again at flake 1 of ${closeUps.length}.`);
    expect(night.records.events(night.opened.runId).filter(({ kind }) => kind === 'closeUp').length).toBe(closeUps.length + 1);
  });

  it('looks at nothing twice', () => {
    const left = closeUpCandidates(contextOf(night), night.records.flakes(night.opened.runId)).map(({ id }) => id);
    for (const { flakeId } of closeUps) expect(left).not.toContain(flakeId);
  });
});

describe('a night that is stopped during its close-ups', () => {
  it('parks, and takes the rest when it goes on', async () => {
    const first = nights.make({ files });
    let isAsked = false;
    first.observatory.board.subscribe((message) => {
      if (isAsked) return;
      const taken = first.records.closeUps(first.opened.runId).length;
      if (message.type === 'progress' && message.progress.state === 'scanning' && taken === 1) {
        isAsked = true;
        void first.observatory.stop();
      }
    });
    expect(await first.run()).toMatchObject({ phase: 'parked', cause: 'stopAsked' });
    const before = first.records.closeUps(first.opened.runId);
    expect(before.length).toBe(1);
    expect(await first.opener.instrument.focus.position()).toBeGreaterThanOrEqual(first.opened.config.limits.safeHeightUm);
    await first.close();

    const second = nights.make({ files, folder: first.folder, resume: true, startMs: startMs + 3_600_000 });
    expect((await second.run()).phase).toBe('finished');
    const after = second.records.closeUps(second.opened.runId);
    expect(after[0]).toEqual(before[0]);
    expect(after.length).toBeGreaterThan(1);
    expect(new Set(after.map(({ flakeId }) => flakeId)).size).toBe(after.length);
    expect(after.reduce((sum, each) => sum + each.tookMs, 0)).toBeLessThanOrEqual(budgetMin * 60_000);
    expect(second.observatory.board.flake(before[0]?.flakeId ?? '')?.closeUp).toBeDefined();
    expect(await verifyRecords(second.records)).toMatchObject({ sound: true });
    await second.close();
  });
});

describe('a close-up that fails', () => {
  it('is left out by name, and the night ends well', async () => {
    const rig = nights.makeOnRig({ files });
    let isOver = false;
    rig.observatory.board.subscribe((message) => {
      if (isOver || message.type !== 'progress' || !message.progress.sentence.startsWith('Looking again at flake 1')) return;
      isOver = true;
      rig.opener.faults.dropFrame();
    });
    const ended = await rig.run();
    expect(ended).toMatchObject({ phase: 'finished' });
    const all = rig.records.closeUps(rig.opened.runId);
    expect(all[0]).toMatchObject({ outcome: 'skipped', reason: 'noFrame' });
    expect(done(all).length).toBeGreaterThan(1);
    expect(rig.records.events(rig.opened.runId).map(({ text }) => text).join('\n')).toContain(`flake ${all[0]?.flakeId}: not looked at again, the camera gave no frame`);
    await rig.close();
  });
});
