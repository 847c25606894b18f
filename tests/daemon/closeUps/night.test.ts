import { afterAll, beforeAll, describe, expect, it, vi } from 'vitest';
import { verifyRecords } from '../../../daemon/records/index.ts';
import type { CloseUpRecord } from '../../../daemon/records/types.ts';
import { tinyFiles, withCloseUps, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs, startMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: after the last tile the best flakes are looked at again, in the time there is for it, and what is seen is recorded. Laws of our own. */

const nights = new TinyNights();
afterAll(() => nights.clear());

const wanted: TinyChange = (instrument, sheet) => {
  withCloseUps(instrument, sheet);
  // A frame of the 10x on this tiny camera; close-ups of 1/5 of that would hold no flake.
  Object.assign(instrument.camera, { widthPx: 512, heightPx: 416 });
};

let night: TinyNight;
let closeUps: readonly CloseUpRecord[];

beforeAll(async () => {
  night = nights.make({ files: tinyFiles(wanted) });
  await night.run();
  closeUps = night.records.closeUps(night.opened.runId);
});

describe('a night with close-ups', () => {
  it('ends well, with the objective up and the lamp off', async () => {
    expect(night.records.run(night.opened.runId)?.state).toBe('finished');
    const { instrument } = night.opener;
    expect(await instrument.focus.position()).toBeGreaterThanOrEqual(night.opened.config.limits.safeHeightUm);
    expect(await instrument.lamp.intensity()).toBe(0);
    console.log(closeUps.map((c) => JSON.stringify({ ...c, picture: undefined, terraces: c.outcome === 'done' ? c.terraces.map((t) => [t.terrace, t.call.layers, t.call.probability, t.together.layers, t.together.probability, night.records.flakes(night.opened.runId).find((f) => f.id === c.flakeId)?.terraces[t.terrace]?.call.probability]) : [] })).join('\n'));
    console.log(night.records.events(night.opened.runId).map((e) => e.text).join('\n'));
  });

  it('has them sound in its records', async () => {
    expect(closeUps.length).toBeGreaterThan(2);
    expect(await verifyRecords(night.records)).toMatchObject({ sound: true, orphans: [] });
  });
});
