import { afterEach, describe, expect, it, vi } from 'vitest';
import type { FrameJob } from '../../../daemon/classify/job.ts';
import { fitHere } from '../../support/inlinePool.ts';
import type { FramePool } from '../../../daemon/classify/pool.ts';
import { runFrameJob } from '../../../daemon/classify/runFrameJob.ts';
import type { TileRecord } from '../../../daemon/records/types.ts';
import { reasonWords } from '../../../daemon/run/sentences.ts';
import { UselessTiles } from '../../../daemon/run/uselessTiles.ts';
import { frameFaults, type FrameFault } from '../../../daemon/vision/types.ts';
import { sensorDark, sensorField } from '../../../simulators/camera/cameraModel.ts';
import { fewTiles, tinyFiles } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/** Protects: a night knows its camera's samples one by one, and says what is wrong with a frame. Truth is the simulator's own sensor, seed 7. */

const nights = new TinyNights();
afterEach(() => nights.clear());

const model = { widthPx: 256, heightPx: 208, bits: 8, transfer: 'linear' } as const;
/** As the tiny night's camera. */
const [dark, field] = [sensorDark(7, model), sensorField(7, model)];

describe('what a night knows of its camera', () => {
  it('is every sample\'s dark level, the hot ones from the first tile on, and the dead ones from the first few', async () => {
    const jobs: FrameJob[] = [];
    const pool: FramePool = {
      run(job) {
        jobs.push(job);
        return runFrameJob(job);
      },
      fit: fitHere,
      close: async () => undefined,
    };
    const night = nights.make({ files: tinyFiles((instrument, sheet) => { fewTiles(instrument, sheet); Object.assign(instrument.opticalPaths.survey, { strayLight: 0.02 }); }), pool });
    await night.run();
    const hot = [...dark.keys()].filter((i) => (dark[i] ?? 0) > 0.1);
    const dead = [...field.keys()].filter((i) => field[i] === 0 && (dark[i] ?? 0) < 0.1);
    expect(Math.min(hot.length, dead.length)).toBeGreaterThan(0);
    for (const { input } of jobs) {
      const { optics } = input;
      expect(optics.dark).toHaveLength(dark.length);
      // Four frames of 8 bits: a sample's mean lies within a step of what it is.
      expect(dark.reduce((worst, level, i) => Math.max(worst, Math.abs(level - (optics.dark[i] ?? 9))), 0)).toBeLessThan(1 / 255);
      expect(optics.flare).toEqual([0.02, 0.02, 0.02]);
      expect([...(optics.masked ?? [])]).toEqual(expect.arrayContaining(hot));
    }
    expect([...(jobs.at(-1)?.input.optics.masked ?? [])]).toEqual([...hot, ...dead].sort((a, b) => a - b));
    const [first] = night.records.chips(night.opened.runId);
    for (const level of first?.dark ?? [9]) expect(Math.abs(level - 0.004)).toBeLessThan(0.002);
  });
});

describe('what is wrong with a frame', () => {
  it.each(frameFaults)('is said in words: %s', (fault) => {
    expect(reasonWords(fault)).not.toBe(fault);
  });

  it.each([['black', true], ['saturated', true], ['noDetail', true], ['torn', false], ['noSubstrate', false], ['outOfFocus', false]] as const)('%s five times in a row ends a night: %s', (fault, ends) => {
    const watch = new UselessTiles();
    const tile = (what?: FrameFault): TileRecord => ({ tile: 0, chip: 'c', outcome: 'done', ...(what ? { fault: what, reason: what } : {}), centreUm: { xUm: 0, yUm: 0 }, zUm: 0, takenAtMs: 0, sharpness: 0, substrate: [], detections: [] });
    const said = Array.from({ length: 5 }, () => watch.troubleAfter(tile(fault)));
    expect(said).toEqual([undefined, undefined, undefined, undefined, ends ? fault : undefined]);
    expect(watch.troubleAfter(tile())).toBeUndefined();
  });
});
