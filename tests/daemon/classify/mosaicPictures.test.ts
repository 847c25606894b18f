import sharp from 'sharp';
import { describe, expect, it } from 'vitest';
import { runFrameJob } from '../../../daemon/classify/runFrameJob.ts';
import { pixelToStage, stageToPixel } from '../../../planner/units/index.ts';
import { drawFrame, drawnPose, PIXEL_UM, square } from '../vision/drawFrame.ts';
import { asCamera } from '../vision/encode.ts';

/** Protects: the pictures of what a mosaic camera found show it where it is. Truth is the place that was drawn. */

const corners = square(300, 200, 80);
const drawn = drawFrame({ widthPx: 640, heightPx: 512, shapes: [{ corners, contrast: [0.3, 0.3, 0.1] }] });

describe.each([['rgb8', 1], ['bayerGB8', 2]] as const)('pictures of a detection from %s', (pixelFormat, cell) => {
  it('are cut around it, people\'s and the camera\'s own alike', async () => {
    const frame = asCamera(drawn, { pixelFormat, bits: 8, transfer: 'linear' });
    const pose = drawnPose(frame);
    const optics = { transfer: 'linear', numericalAperture: 0.45, dark: [0, 0, 0], flare: [0, 0, 0] } as const;
    const { detectionPictures, mapPicture, rawFrame } = await runFrameJob({ tile: 0, input: { frame, pose, optics }, pictures: { mapWidthPx: 160, cropRimUm: 10, rawFrame: true } });
    expect(detectionPictures).toHaveLength(1);
    const [picture] = detectionPictures;
    if (!picture?.png) throw new Error('no picture');
    const middle = pixelToStage(pose, { colPx: 340, rowPx: 240 });
    expect(Math.hypot(picture.centreUm.xUm - middle.xUm, picture.centreUm.yUm - middle.yUm)).toBeLessThan(2 * PIXEL_UM);
    // A flake of 40 um with a rim of 10 um on every side.
    expect(picture.widthPx * cell * PIXEL_UM).toBeGreaterThan(58);
    expect(picture.widthPx * cell * PIXEL_UM).toBeLessThan(63);
    const own = { widthPx: picture.widthPx, heightPx: picture.heightPx, centreUm: picture.centreUm, cameraToStageUm: picture.cameraToStageUm };
    const { data, info } = await sharp(picture.png).raw().toBuffer({ resolveWithObject: true });
    expect([info.width, info.height]).toEqual([picture.widthPx, picture.heightPx]);
    const red = (colPx: number, rowPx: number): number => {
      const at = stageToPixel(own, pixelToStage(pose, { colPx, rowPx }));
      return data[(Math.floor(at.rowPx) * info.width + Math.floor(at.colPx)) * info.channels] ?? 0;
    };
    const mean = (values: readonly number[]): number => values.reduce((sum, v) => sum + v, 0) / values.length;
    // The flake's edge lies where it was drawn: a few pixels inside it is darker than a few outside.
    for (const side of [-1, 1]) {
      const [inside, outside] = [36, 46].map((far) => mean([-20, -10, 0, 10, 20].map((k) => red(340 + side * far, 240 + k))));
      expect((outside ?? 0) - (inside ?? 0)).toBeGreaterThan(10);
    }
    const raw = await sharp(picture.rawPng).metadata();
    expect([raw.width, raw.height]).toEqual([picture.widthPx * cell, picture.heightPx * cell]);
    // The raw one begins with the frame's own first filter, and holds the frame's own numbers.
    const samples = pixelFormat === 'rgb8' ? 3 : 1;
    const stored = await sharp(picture.rawPng).toColourspace(samples === 1 ? 'b-w' : 'srgb').raw().toBuffer();
    const corner = stageToPixel(pose, pixelToStage(own, { colPx: 0, rowPx: 0 }));
    const [col, row] = [Math.round(corner.colPx), Math.round(corner.rowPx)];
    expect([col % cell, row % cell]).toEqual([0, 0]);
    expect([...stored.subarray(0, 9)]).toEqual([...frame.data.subarray((row * 640 + col) * samples, (row * 640 + col) * samples + 9)]);
    expect([mapPicture, rawFrame].every((bytes) => bytes !== undefined && bytes.length > 0)).toBe(true);
  });
});
