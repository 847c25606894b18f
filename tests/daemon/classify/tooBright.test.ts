import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { classifyFrameSet } from '../../../daemon/classify/frameSet.ts';
import type { FrameSetReport } from '../../../daemon/classify/report.ts';
import { measureFrame } from '../../../daemon/vision/measureFrame.ts';
import { openFrameSet } from '../../../drivers/frameset/index.ts';
import { areaUm2, containsPoint } from '../../../planner/geometry/polygon.ts';
import { inscribedCircle } from '../../../planner/geometry/inscribedCircle.ts';
import { stageToPixel, type StagePoint } from '../../../planner/units/index.ts';
import { trayNamed } from '../../simulators/smallMicroscope.ts';
import { writeFrameSet, type FrameSetTruth } from '../../simulators/writeFrameSet.ts';

/**
 * Protects: stored frames cannot be taken again, and so a terrace that is too bright in them is told so and given no thickness, each by
 * itself. Truth is what the stored numbers are where a terrace of the simulator's own chip lies.
 */

let folder = '';
let truth: FrameSetTruth;
let report: FrameSetReport;
beforeAll(async () => {
  folder = join(await mkdtemp(join(tmpdir(), 'nightjar-bright-')), 'set');
  const objectives = [{ magnification: 10, numericalAperture: 0.3, cameraToStageUm: [0.69, 0, 0, -0.69] as const }];
  const scene = { seed: 7, tray: trayNamed('nitride'), camera: { widthPx: 640, heightPx: 512, bits: 12, transfer: 'linear' as const }, objectives, lamp: 'halogen' as const };
  truth = await writeFrameSet({ directory: folder, scene, exposureMs: 12, lampIntensity: 0.6, overlap: 0.15, withBlank: true, withDark: true, keys: { bitDepth: 12 } });
  report = (await classifyFrameSet(folder, { inFlight: 2 }, (input) => Promise.resolve(measureFrame(input)))).report;
}, 120_000);
afterAll(() => rm(join(folder, '..'), { recursive: true }));

/** Share of the samples about a place that are full, in the first frame that shows it well; undefined where none does. */
async function fullAt(at: StagePoint): Promise<number | undefined> {
  const set = await openFrameSet(folder);
  for (const [index, stored] of set.frames.entries()) {
    const frame = await set.readFrame(index);
    const place = stageToPixel({ centreUm: stored, cameraToStageUm: set.cameraToStageUm, widthPx: frame.widthPx, heightPx: frame.heightPx }, at);
    const [col, row] = [Math.floor(place.colPx), Math.floor(place.rowPx)];
    if (col < 20 || row < 20 || col > frame.widthPx - 20 || row > frame.heightPx - 20) continue;
    const around = Array.from({ length: 25 }, (_, n) => 3 * ((row - 2 + Math.floor(n / 5)) * frame.widthPx + col - 2 + (n % 5)));
    return around.filter((i) => [0, 1, 2].some((c) => frame.data[i + c] === 4095)).length / 25;
  }
  return undefined;
}

const corners = (outline: readonly (readonly [number, number])[]): StagePoint[] => outline.map(([xUm, yUm]) => ({ xUm, yUm }));

describe('bright boron nitride in stored frames', () => {
  it('has a thickness where it could be measured, and is called too bright where it could not', async () => {
    const seen = { bright: 0, measured: 0 };
    for (const { terraces } of truth.flakes) {
      const top = corners(terraces.at(-1)?.outlineUm ?? []);
      const { centreUm, radiusUm } = inscribedCircle(top);
      const full = await fullAt(centreUm);
      if (full === undefined || radiusUm < 5 || (full > 0.05 && full < 0.95)) continue;
      const rejected = report.rejected.find((r) => containsPoint(corners(r.outlineUm), centreUm));
      const reported = report.flakes.flatMap((f) => f.terraces).filter((t) => containsPoint(corners(t.outlineUm), centreUm)).sort((a, b) => areaUm2(corners(a.outlineUm)) - areaUm2(corners(b.outlineUm)))[0];
      if (full > 0.9) {
        seen.bright++;
        expect(reported?.tooBright ?? rejected?.reason).toBe(reported ? true : 'tooBright');
        expect(reported?.thicknessNm).toBeUndefined();
      } else if (reported) {
        seen.measured++;
        expect(reported.tooBright).toBeUndefined();
        expect(reported.thicknessNm).toBeGreaterThan(0);
      }
    }
    expect(Math.min(seen.bright, seen.measured)).toBeGreaterThan(2);
    expect(report.problems).toEqual([]);
  });
});
