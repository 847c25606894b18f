import { afterEach, describe, expect, it, vi } from 'vitest';
import type { FrameJob } from '../../../daemon/classify/job.ts';
import { fitHere } from '../../support/inlinePool.ts';
import type { FramePool } from '../../../daemon/classify/pool.ts';
import { runFrameJob } from '../../../daemon/classify/runFrameJob.ts';
import { TileCamera } from '../../../daemon/run/secondExposure.ts';
import { saturatedPixels } from '../../../daemon/vision/fullScale.ts';
import { DriverError, type Camera } from '../../../drivers/interfaces/index.ts';
import type { Flake, Terrace } from '../../../planner/flakes/types.ts';
import type { StagePoint } from '../../../planner/units/index.ts';
import { makeWorld } from '../../../simulators/world/makeWorld.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';
import { tinyFiles, type TinyChange } from '../../support/tinyFiles.ts';
import { slowMachineMs, TinyNights, type TinyNight } from '../../support/tinyNight.ts';

vi.setConfig({ testTimeout: slowMachineMs, hookTimeout: slowMachineMs });

/**
 * Protects: where thickness is read from brightness, a tile that is partly too bright is photographed once more, at once and shorter, and
 * nothing else is. Truth is the simulator's own chip, which the daemon never sees.
 */

const nights = new TinyNights();
afterEach(() => nights.clear());

const exposureMs = 12;
/** A chip of boron nitride under so much light that thin films can be told from bare oxide: thick ones are too bright. */
const brightNitride: TinyChange = (instrument, sheet) => {
  instrument.simulator.tray = 'nitride';
  instrument.opticalPaths.survey.exposureMs = exposureMs;
  for (const chip of sheet.chips) Object.assign(chip, { material: 'hbn', oxideNm: 90 });
};

/** Remembers what was asked of it; `change` may take something away before. */
function spy(change: (job: FrameJob) => FrameJob = (job) => job): FramePool & { readonly jobs: FrameJob[] } {
  const jobs: FrameJob[] = [];
  return {
    jobs,
    run(job) {
      jobs.push(job);
      return runFrameJob(change(job));
    },
    fit: fitHere,
    close: async () => undefined,
  };
}

const tiles = (jobs: readonly FrameJob[]) => jobs.filter((job) => job.tile >= 0);
const flakesOf = (night: TinyNight): readonly Flake[] => night.records.flakes(night.opened.runId);
const terracesOf = (night: TinyNight): readonly Terrace[] => flakesOf(night).filter((f) => f.verdict !== 'rejected').flatMap((f) => f.terraces);
const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
const wellSeen = (terrace: Terrace): boolean => terrace.areaUm2 >= 150 && terrace.inscribedUm >= 8;

/** By the even-odd rule. */
function contains(outlineUm: readonly StagePoint[], { xUm, yUm }: StagePoint): boolean {
  return outlineUm.reduce((inside, a, i) => {
    const b = outlineUm[(i + 1) % outlineUm.length] ?? a;
    const crosses = a.yUm > yUm !== b.yUm > yUm && xUm < a.xUm + ((b.xUm - a.xUm) * (yUm - a.yUm)) / (b.yUm - a.yUm);
    return crosses ? !inside : inside;
  }, false);
}

/** Thickness of what truly lies at the middle of a terrace. */
function truthAt(terrace: Terrace): number | undefined {
  const world = makeWorld(7, trayNamed('nitride'));
  const there = world.chips.flatMap((chip) => chip.flakes).flatMap((flake) => flake.terraces).filter((t) => contains(t.outlineUm, terrace.inscribedCentreUm));
  return there.at(-1)?.film.thicknessNm;
}

describe('a night on bright boron nitride', () => {
  it('photographs what is too bright once more at a quarter of the time, and measures it', async () => {
    const pool = spy();
    const night = nights.make({ files: tinyFiles((instrument, sheet) => { brightNitride(instrument, sheet); sheet.keep.rawFrames = true; }), pool });
    expect((await night.run()).phase).toBe('finished');
    const pixelUm2 = 0.69 ** 2;
    const leastUm2 = (Math.PI / 4) * 3 ** 2;
    for (const { input } of tiles(pool.jobs)) {
      expect(input.frame.exposureMs).toBe(exposureMs);
      expect(input.short?.exposureMs).toBe(saturatedPixels(input.frame) * pixelUm2 >= leastUm2 ? exposureMs / 4 : undefined);
    }
    expect(tiles(pool.jobs).some(({ input }) => input.short !== undefined)).toBe(true);
    expect(tiles(pool.jobs).some(({ input }) => input.short === undefined)).toBe(true);
    expect(pool.jobs.filter((job) => job.tile < 0).every(({ input }) => input.short === undefined)).toBe(true);

    // Whoever keeps raw frames keeps both.
    const kept = night.records.storedFiles(night.opened.runId).map(({ file }) => file.split('/').at(-1));
    for (const { tile, input } of tiles(pool.jobs)) expect(kept.includes(`${String(tile).padStart(6, '0')}-short.png`)).toBe(input.short !== undefined);

    const seen = terracesOf(night).filter(wellSeen);
    const thick = seen.filter((t) => (truthAt(t) ?? 0) > 30);
    expect(thick.length).toBeGreaterThan(4);
    // The simulator's index table and oxide are its own: thickness is off by about a tenth, thin and thick alike.
    const offOf = (some: readonly Terrace[]) => some.map((t) => (t.call.thicknessNm ?? 0) / (truthAt(t) ?? 0));
    for (const off of offOf(thick)) expect(Math.abs(off - 1)).toBeLessThan(0.12);
    const thin = offOf(seen.filter((t) => !thick.includes(t)));
    expect(Math.abs(mean(offOf(thick)) - mean(thin))).toBeLessThan(0.05);
    for (const t of thick) expect(t.saturatedShare).toBeLessThan(0.02);
  });

  it('does without where layers are counted: too bright is thick', async () => {
    const pool = spy();
    const night = nights.make({ files: tinyFiles((instrument, sheet) => { brightNitride(instrument, sheet); for (const chip of sheet.chips) chip.material = 'graphene'; }), pool });
    await night.run();
    expect(tiles(pool.jobs).some(({ input }) => saturatedPixels(input.frame) > 100)).toBe(true);
    expect(pool.jobs.every(({ input }) => input.short === undefined)).toBe(true);
  });

  it('calls it too bright where the short frames are lost', async () => {
    const pool = spy((job) => ({ ...job, input: { frame: job.input.frame, pose: job.input.pose, optics: job.input.optics } }));
    const night = nights.make({ files: tinyFiles(brightNitride), pool });
    await night.run();
    expect(flakesOf(night).filter((f) => f.reject === 'tooBright').length).toBeGreaterThan(0);
  });

  it('is the same night again with the same seed', async () => {
    const dumpOf = async () => {
      const night = nights.make({ files: tinyFiles(brightNitride) });
      await night.run();
      return night.dump();
    };
    expect(await dumpOf()).toBe(await dumpOf());
  });
});

describe('the tile\'s camera', () => {
  const [widthPx, heightPx] = [40, 30];
  const info = { model: 'of this test', widthPx, heightPx, pixelFormat: 'mono8', bits: 8, exposureMinMs: 0.5, exposureMaxMs: 100 } as const;
  const { signal } = new AbortController();

  /** A camera that shows so many full pixels at the long exposure, and writes down how long each frame was exposed; some calls fail. */
  function cameraWith(full: number, fails: { readonly snap?: number; readonly configure?: number } = {}) {
    const exposures: number[] = [];
    const calls = { snap: 0, configure: 0 };
    let now = 8;
    const failing = (what: 'snap' | 'configure') => {
      if (++calls[what] === fails[what]) throw new DriverError('timeout', { device: 'camera' });
    };
    const camera: Camera = {
      info,
      async configure(settings) {
        failing('configure');
        now = settings.exposureMs;
        return settings;
      },
      async snap() {
        failing('snap');
        exposures.push(now);
        const data = new Uint8Array(widthPx * heightPx).fill(now < 8 ? 60 : 100);
        if (now >= 8) data.fill(255, 0, full);
        return { widthPx, heightPx, pixelFormat: 'mono8', bits: 8, data, exposureMs: now, takenAtMs: 0 };
      },
      close: async () => undefined,
    };
    return { camera, exposures, exposureNow: () => now };
  }
  const tileCamera = (camera: Camera, exposureMs = 8) => new TileCamera({ instrument: { camera }, path: { exposureMs, gainDb: 0, cameraToStageUm: [0.5, 0, 0, 0.5] }, sheet: { lookFor: { leastUsableUm: 4 } } });

  // A circle of 4 um has 12.6 um2, 50.3 pixels of a quarter um2.
  it.each([[0, false], [50, false], [51, true], [600, true], [601, false]])('with %i pixels full takes a second exposure: %s', async (full, second) => {
    const { camera, exposures, exposureNow } = cameraWith(full);
    const { short } = await tileCamera(camera).expose(true, signal);
    expect(exposures).toEqual(second ? [8, 2] : [8]);
    expect(short?.exposureMs).toBe(second ? 2 : undefined);
    expect(exposureNow()).toBe(8);
  });

  it('never does where brightness is not wanted, or where the camera cannot go much shorter', async () => {
    const one = cameraWith(400);
    expect(await tileCamera(one.camera).expose(false, signal)).not.toHaveProperty('short');
    const other = cameraWith(400);
    expect(await tileCamera({ ...other.camera, info: { ...info, exposureMinMs: 7 } }).expose(true, signal)).not.toHaveProperty('short');
    const nearly = cameraWith(400);
    expect((await tileCamera({ ...nearly.camera, info: { ...info, exposureMinMs: 4 } }).expose(true, signal)).short?.exposureMs).toBe(4);
  });

  it('goes back to the long exposure when the short frame fails, and before the next frame when that failed as well', async () => {
    const lost = cameraWith(400, { snap: 2 });
    await expect(tileCamera(lost.camera).expose(true, signal)).rejects.toMatchObject({ code: 'timeout' });
    expect(lost.exposureNow()).toBe(8);
    const stuck = cameraWith(400, { configure: 2 });
    const tile = tileCamera(stuck.camera);
    await expect(tile.expose(true, signal)).rejects.toMatchObject({ code: 'timeout' });
    expect(stuck.exposureNow()).toBe(2);
    await tile.expose(true, signal);
    expect(stuck.exposures).toEqual([8, 2, 8, 2]);
  });
});
