import { mkdirSync, symlinkSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import fc from 'fast-check';
import sharp from 'sharp';
import { openFrameSet } from '../../../drivers/frameset/index.ts';
import { frameSetSchema } from '../../../drivers/frameset/frameSetSchema.ts';
import { samplesPerPixel } from '../../../drivers/frames/cropFrame.ts';
import { contentOf, inFolder } from '../folder.ts';
import { anyBytes, anyText, oddText } from '../hostile.ts';
import { answerOf, each, hold, trial, type Door } from '../law.ts';
import { beginningsOf, mutatedBytes, mutatedText, mutatedTree } from '../mutate.ts';

const SIDE_PX = 12;
const description = {
  format: 'frame-set/1',
  title: 'invented',
  objective: { magnification: 10, numericalAperture: 0.3 },
  cameraToStageUm: [[0.69, 0], [0, 0.69]],
  transfer: 'linear',
  illumination: 'halogen',
  material: 'graphene',
  oxideNm: 290,
  whiteBalance: 'mirror',
  frames: [{ file: 'one.png', xUm: 0, yUm: 0 }, { file: 'two.png', xUm: 500, yUm: 0 }],
  blankFrame: 'two.png',
};

const grey = sharp(Buffer.alloc(SIDE_PX * SIDE_PX, 90), { raw: { width: SIDE_PX, height: SIDE_PX, channels: 1 } });
const deep = sharp(Uint16Array.from({ length: SIDE_PX * SIDE_PX * 3 }, (_, n) => n * 100), { raw: { width: SIDE_PX, height: SIDE_PX, channels: 3 } });
const images: readonly Buffer[] = await Promise.all([
  grey.clone().png().toBuffer(), grey.clone().tiff({ compression: 'none' }).toBuffer(), grey.clone().tiff({ compression: 'lzw' }).toBuffer(), grey.clone().jpeg().toBuffer(),
  deep.clone().toColourspace('rgb16').png().toBuffer(), deep.clone().toColourspace('rgb16').tiff().toBuffer(), grey.clone().webp().toBuffer(), grey.clone().gif().toBuffer(),
]);

const scalable = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="90000" height="90000"><image xlink:href="file:///etc/passwd"/></svg>';

/** Opens a set and reads all that it names; whatever comes of it, the folder is as it was. */
async function read(text: string | Uint8Array, image: Uint8Array = images[0] ?? new Uint8Array()): Promise<void> {
  await inFolder(async (top) => {
    const folder = join(top, 'set');
    mkdirSync(join(folder, 'sub'), { recursive: true });
    writeFileSync(join(top, 'secret.png'), images[0] ?? '');
    writeFileSync(join(folder, 'frame-set.json'), text);
    writeFileSync(join(folder, 'one.png'), image);
    symlinkSync(join(top, 'secret.png'), join(folder, 'two.png'));
    symlinkSync('/dev/zero', join(folder, 'endless.png'));
    const before = contentOf(join(folder, 'sub'));
    const set = await answerOf(() => openFrameSet(folder), ['frame-set.json']);
    if (!set) return;
    const frames = [...set.frames.slice(0, 3).map(({ file }, n) => ({ file, read: () => set.readFrame(n) })), { file: '', read: () => set.readBlank() }, { file: '', read: () => set.readDark() }];
    for (const { read: take } of frames) {
      const frame = await answerOf(take);
      if (frame) hold(frame.data.length === frame.widthPx * frame.heightPx * samplesPerPixel(frame.pixelFormat), 'a frame has as many samples as it says');
    }
    hold(contentOf(join(folder, 'sub')) === before, 'nothing is written');
  });
}

const names = fc.oneof(oddText, fc.constantFrom('../secret.png', 'sub/../../secret.png', '/etc/passwd', 'two.png', 'endless.png', 'sub', '.', '..', 'frame-set.json', 'one.png/', 'one.png\u0000'));
const withName = names.map((file) => JSON.stringify({ ...description, frames: [{ file, xUm: 0, yUm: 0 }] }));

/** A PNG whose head says that it is larger than any memory. */
function claiming(widthPx: number, heightPx: number): Uint8Array {
  const bytes = Buffer.from(images[0] ?? []);
  bytes.writeUInt32BE(widthPx, 16);
  bytes.writeUInt32BE(heightPx, 20);
  return bytes;
}

export const frameSets: Door = {
  name: 'frame sets',
  trials: [
    trial('any bytes for a description', anyBytes, (bytes) => read(bytes)),
    trial('any text for a description', anyText, (text) => read(text)),
    trial('a description with something wrong in it', mutatedTree(description).map((tree) => JSON.stringify(tree)), async (text) => {
      const parsed = frameSetSchema.safeParse(JSON.parse(text));
      if (parsed.success) hold(frameSetSchema.safeParse(parsed.data).success, 'what is read passes its own schema');
      await read(text);
    }, 2),
    trial('a text with something wrong in it', mutatedText(JSON.stringify(description, null, 1)), (text) => read(text)),
    each('a description cut off anywhere', beginningsOf(JSON.stringify(description)).filter((_, n) => n % 11 === 0), (text) => read(text)),
    trial('other names', withName, (text) => read(text)),
    trial('any bytes for an image', anyBytes, (bytes) => read(JSON.stringify(description), bytes)),
    trial('an image with something wrong in it', fc.constantFrom(...images).chain(mutatedBytes), (bytes) => read(JSON.stringify(description), bytes), 2),
    each('images that are none of ours', [Buffer.from(scalable), claiming(2 ** 31 - 1, 2 ** 31 - 1), claiming(60_000, 60_000), claiming(0, 5), claiming(16_000, 16_000), Buffer.from('%PDF-1.4\n'), Buffer.alloc(0)], (bytes) => read(JSON.stringify(description), bytes)),
  ],
};
