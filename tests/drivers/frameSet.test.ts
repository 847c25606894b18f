import { execFileSync } from 'node:child_process';
import { mkdir, mkdtemp, rm, symlink, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import sharp from 'sharp';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { cropFrame } from '../../drivers/frames/cropFrame.ts';
import { openFrameSet, openFrameSetCamera } from '../../drivers/frameset/index.ts';
import { bayerPattern } from '../../drivers/frames/bayer.ts';
import type { CameraFrame } from '../../drivers/interfaces/index.ts';
import { VirtualClock } from '../../simulators/clock/virtualClock.ts';

let folder = '';
beforeEach(async () => {
  folder = join(await mkdtemp(join(tmpdir(), 'frame-set-')), 'set');
  await mkdir(folder);
});
afterEach(() => rm(join(folder, '..'), { recursive: true }));

const description = {
  format: 'frame-set/1',
  objective: { magnification: 10, numericalAperture: 0.3 },
  cameraToStageUm: [[0.5, 0.01], [0.02, -0.5]],
  transfer: 'srgb',
  illumination: 'a lamp',
  material: 'graphene',
  oxideNm: 285,
  frames: [{ file: 'one.png', xUm: 10, yUm: -20.5 }],
};

async function store(change: Readonly<Record<string, unknown>> = {}): Promise<void> {
  await writeFile(join(folder, 'frame-set.json'), JSON.stringify({ ...description, ...change }));
}

/** Writes known samples with the named codec. */
async function storeImage(file: string, samples: Uint8Array | Uint16Array, widthPx: number, channels: 1 | 3 | 4): Promise<void> {
  const raw = { width: widthPx, height: samples.length / channels / widthPx, channels };
  const image = sharp(samples, { raw });
  const isDeep = samples instanceof Uint16Array;
  const inSpace = isDeep ? image.toColourspace(channels === 1 ? 'grey16' : 'rgb16') : channels === 1 ? image.toColourspace('b-w') : image;
  await (file.endsWith('.tif') ? inSpace.tiff({ compression: 'deflate' }) : inSpace).toFile(join(folder, file));
}

describe('openFrameSet', () => {
  it('reads the description, fills in what may be left out, and ignores keys it does not know', async () => {
    await store({ whiteBalance: 'mirror', somebodysNote: 7 });
    const set = await openFrameSet(folder);
    expect(set).toMatchObject({ cameraToStageUm: [0.5, 0.01, 0.02, -0.5], transfer: 'srgb', material: 'graphene', oxideNm: 285, whiteBalance: 'mirror' });
    expect(set.frames).toEqual([{ file: 'one.png', xUm: 10, yUm: -20.5 }]);
    expect([set.hasBlank, set.hasDark]).toEqual([false, false]);
    expect(await set.readBlank()).toBeUndefined();
    expect(await set.readDark()).toBeUndefined();
    await store();
    expect((await openFrameSet(folder)).whiteBalance).toBe('unknown');
  });

  it.each([
    ['one.png', new Uint8Array([0, 1, 2, 250, 251, 252, 9, 8, 7, 77, 78, 79]), 3, 'rgb8'],
    ['one.png', new Uint8Array([0, 1, 128, 255]), 1, 'mono8'],
    ['one.png', new Uint16Array([0, 1, 256, 4095, 4096, 65_535]), 1, 'mono16'],
    ['one.tif', new Uint16Array([0, 1, 256, 4095, 4096, 65_535]), 3, 'rgb16'],
    ['one.tif', new Uint8Array([3, 2, 1, 0]), 1, 'mono8'],
  ] as const)('gives every stored sample back unchanged: %s %#', async (file, samples, channels, pixelFormat) => {
    await store({ frames: [{ file, xUm: 0, yUm: 0 }], blankFrame: file, darkFrame: file });
    await storeImage(file, samples, 2, channels);
    const set = await openFrameSet(folder);
    const frame = await set.readFrame(0);
    expect(frame).toMatchObject({ widthPx: 2, heightPx: samples.length / channels / 2, pixelFormat, bits: samples instanceof Uint16Array ? 16 : 8 });
    expect(Array.from(frame.data)).toEqual(Array.from(samples));
    expect(Array.from((await set.readBlank())?.data ?? [])).toEqual(Array.from(samples));
    expect(Array.from((await set.readDark())?.data ?? [])).toEqual(Array.from(samples));
  });

  it.each([['RGGB', 'bayerRG8'], ['GRBG', 'bayerGR8'], ['GBRG', 'bayerGB8'], ['BGGR', 'bayerBG8']])('takes grey images for mosaics of %s where the set says so', async (bayer, pixelFormat) => {
    await store({ bayer, blankFrame: 'one.png' });
    await storeImage('one.png', new Uint8Array([1, 2, 3, 4, 5, 6]), 2, 1);
    const set = await openFrameSet(folder);
    expect(await set.readFrame(0)).toMatchObject({ pixelFormat, bits: 8, widthPx: 2, heightPx: 3 });
    expect((await set.readBlank())?.pixelFormat).toBe(pixelFormat);
  });

  it.each([
    ['low bits', [0, 1, 17, 4095], [0, 1, 17, 4095]],
    ['high bits', [0, 16, 272, 65_520], [0, 1, 17, 4095]],
    ['low bits that look like high ones but for one', [16, 32, 33, 48], [16, 32, 33, 48]],
  ] as const)('brings samples of 12 bits in the %s of 16 to their own numbers', async (_, stored, samples) => {
    await store({ bitDepth: 12 });
    await storeImage('one.png', new Uint16Array(stored), 2, 1);
    const frame = await (await openFrameSet(folder)).readFrame(0);
    expect(frame).toMatchObject({ pixelFormat: 'mono16', bits: 12 });
    expect([...frame.data]).toEqual(samples);
  });

  it.each([
    [{ bitDepth: 12 }, new Uint16Array([5, 4096]), 1, 'a sample of 4096 in a set of 12 bits'],
    [{ bitDepth: 12 }, new Uint8Array([5, 6]), 1, 'samples of 8 bits in a set of 12 bits'],
    [{ bayer: 'RGGB' }, new Uint8Array([5, 6, 7, 8, 9, 10]), 3, 'a colour image in a set of RGGB mosaics; grey wanted'],
  ] as const)('names an image that is not what the set says: %j', async (change, samples, channels, problem) => {
    await store(change);
    await storeImage('one.png', samples, 2, channels);
    await expect((await openFrameSet(folder)).readFrame(0)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'one.png', problem } });
  });

  it('drops transparency', async () => {
    await store();
    await storeImage('one.png', new Uint8Array([10, 20, 30, 128, 40, 50, 60, 255]), 2, 4);
    const frame = await (await openFrameSet(folder)).readFrame(0);
    expect(Array.from(frame.data)).toEqual([10, 20, 30, 40, 50, 60]);
  });

  it('decodes JPEG to about what was stored', async () => {
    await store({ frames: [{ file: 'one.jpg', xUm: 0, yUm: 0 }] });
    await storeImage('one.jpg', new Uint8Array(16 * 16 * 3).fill(90), 16, 3);
    const frame = await (await openFrameSet(folder)).readFrame(0);
    expect(frame.pixelFormat).toBe('rgb8');
    expect(Math.abs((frame.data[100] ?? 0) - 90)).toBeLessThanOrEqual(2);
  });

  it('names a missing and a broken image, and still reads the others', async () => {
    await store({ frames: ['gone.png', 'broken.png', 'cut.png', 'one.png'].map((file) => ({ file, xUm: 0, yUm: 0 })) });
    await storeImage('one.png', new Uint8Array(3 * 64 * 64).map((_, i) => (i * 37) % 251), 64, 3);
    await writeFile(join(folder, 'broken.png'), 'no picture at all');
    const whole = await sharp(join(folder, 'one.png')).toBuffer();
    await writeFile(join(folder, 'cut.png'), whole.subarray(0, whole.length / 2));
    const set = await openFrameSet(folder);
    await expect(set.readFrame(0)).rejects.toMatchObject({ code: 'missingFile', details: { file: 'gone.png' } });
    await expect(set.readFrame(1)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'broken.png' } });
    await expect(set.readFrame(2)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'cut.png' } });
    await expect(set.readFrame(3)).resolves.toMatchObject({ widthPx: 64 });
    await expect(set.readFrame(4)).rejects.toBeInstanceOf(RangeError);
  });

  it.each([
    [{ cameraToStageUm: [[1, 2], [2, 4]] }, 'cameraToStageUm'],
    [{ cameraToStageUm: [1, 0, 0, 1] }, 'cameraToStageUm'],
    [{ transfer: 'gamma' }, 'transfer'],
    [{ oxideNm: '285' }, 'oxideNm'],
    [{ frames: [] }, 'frames'],
    [{ frames: [{ file: 'one.png', xUm: 'left', yUm: 0 }] }, 'frames.0.xUm'],
    [{ format: 'frame-set/2' }, 'format'],
    [{ bayer: 'RGBG' }, 'bayer'],
    [{ bitDepth: 20 }, 'bitDepth'],
    [{ blankFrame: '../blank.png' }, 'file'],
    [{ frames: [{ file: '/etc/hostname', xUm: 0, yUm: 0 }] }, 'file'],
  ])('refuses a description with a wrong value: %j', async (change, key) => {
    await store(change);
    const opening = openFrameSet(folder);
    await expect(opening).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'frame-set.json' } });
    await opening.catch((error: { details: { key: string } }) => expect(error.details.key).toContain(key));
  });

  it('says whether the description is missing or no JSON', async () => {
    await expect(openFrameSet(folder)).rejects.toMatchObject({ code: 'missingFile', details: { file: 'frame-set.json' } });
    await writeFile(join(folder, 'frame-set.json'), '{ "frames": [');
    await expect(openFrameSet(folder)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'frame-set.json' } });
  });

  it('follows no link out of the folder', async () => {
    await store();
    await storeImage('one.png', new Uint8Array([1, 2]), 2, 1);
    await sharp(join(folder, 'one.png')).toFile(join(folder, '..', 'secret.png'));
    await rm(join(folder, 'one.png'));
    await symlink(join(folder, '..', 'secret.png'), join(folder, 'one.png'));
    await expect((await openFrameSet(folder)).readFrame(0)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'one.png' } });
  });

  it('waits for no pipe among its files, and says which key is missing', async () => {
    await store();
    execFileSync('mkfifo', [join(folder, 'one.png')]);
    await expect((await openFrameSet(folder)).readFrame(0)).rejects.toMatchObject({ code: 'brokenFile', details: { file: 'one.png', problem: 'it is no file' } });
    await writeFile(join(folder, 'frame-set.json'), '{}');
    await expect(openFrameSet(folder)).rejects.toMatchObject({ code: 'brokenFile', details: { key: 'objective', problem: 'it is missing; object wanted' } });
  });
});

describe('a part of a mosaic', () => {
  it('begins with the filter that lies at its corner', () => {
    // Red is 0, green 1, blue 2, written out for a whole frame of each pattern and read at the part's corner.
    const cells = { RG: [[0, 1], [1, 2]], GR: [[1, 0], [2, 1]], GB: [[1, 2], [0, 1]], BG: [[2, 1], [1, 0]] } as const;
    for (const whole of ['RG', 'GR', 'GB', 'BG'] as const) {
      const data = Uint8Array.from({ length: 36 }, (_, i) => cells[whole][Math.floor(i / 6) % 2]?.[i % 2] ?? 9);
      const frame: CameraFrame = { widthPx: 6, heightPx: 6, pixelFormat: `bayer${whole}8`, bits: 8, data, exposureMs: 1, takenAtMs: 0 };
      for (const [colPx, rowPx] of [[0, 0], [1, 0], [0, 1], [3, 3]] as const) {
        const part = cropFrame(frame, { colPx, rowPx, widthPx: 2, heightPx: 2 });
        const pattern = bayerPattern(part.pixelFormat);
        expect([...part.data]).toEqual(pattern && cells[pattern].flat());
      }
    }
  });
});

describe('frame-set camera', () => {
  it('plays the frames in their order, goes on after a broken one, and ends', async () => {
    await store({ frames: ['a.png', 'gone.png', 'b.png'].map((file) => ({ file, xUm: 0, yUm: 0 })) });
    await storeImage('a.png', new Uint8Array([1, 2, 3, 4]), 2, 1);
    await storeImage('b.png', new Uint8Array([5, 6, 7, 8]), 2, 1);
    const camera = await openFrameSetCamera(await openFrameSet(folder), new VirtualClock({ startMs: 0 }));
    expect(Array.from((await camera.snap()).data)).toEqual([1, 2, 3, 4]);
    await expect(camera.snap()).rejects.toMatchObject({ code: 'missingFile', details: { file: 'gone.png' } });
    await camera.configure({ exposureMs: camera.info.exposureMinMs, gainDb: 0, region: { colPx: 1, rowPx: 0, widthPx: 1, heightPx: 2 } });
    expect(Array.from((await camera.snap()).data)).toEqual([6, 8]);
    await expect(camera.snap()).rejects.toMatchObject({ code: 'noFrame' });
  });

  it('cannot be opened on a set without one readable frame', async () => {
    await store();
    const set = await openFrameSet(folder);
    await expect(openFrameSetCamera(set, new VirtualClock({ startMs: 0 }))).rejects.toMatchObject({ code: 'missingFile' });
  });
});
