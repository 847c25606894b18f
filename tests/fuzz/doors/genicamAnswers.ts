import fc from 'fast-check';
import { offWithin, isOff } from '../../../drivers/genicam/automatics.ts';
import { chooseFormat, formatOfCode, wireFormats } from '../../../drivers/genicam/formats.ts';
import { checkSettings, enclosingRegion, type AxisBounds } from '../../../drivers/genicam/geometry.ts';
import { copyPixels } from '../../../drivers/genicam/pixels.ts';
import { oddNumber, oddText } from '../hostile.ts';
import { answerOf, hold, trial, type Door } from '../law.ts';

const code = fc.oneof(fc.constantFrom(...wireFormats.map((format) => format.code)), fc.integer(), oddNumber);

async function choose([asked, offered]: readonly [string | undefined, readonly number[]]): Promise<void> {
  const format = await answerOf(() => chooseFormat(asked, offered));
  if (format) hold(offered.includes(format.code) && (asked === undefined || format.name === asked), 'a format is one that is offered and asked for');
  for (const each of offered) formatOfCode(each);
}

const px = fc.integer({ min: 1, max: 300 });
const axis: fc.Arbitrary<AxisBounds> = fc.record({ minPx: px, maxPx: px, stepPx: fc.integer({ min: 1, max: 64 }), offsetStepPx: fc.integer({ min: 1, max: 64 }) }).map((bounds) => ({ ...bounds, maxPx: Math.max(bounds.minPx, bounds.maxPx) }));
const sizePx = fc.oneof(fc.integer({ min: -10, max: 400 }), oddNumber);
const region = fc.record({ colPx: sizePx, rowPx: sizePx, widthPx: sizePx, heightPx: sizePx });

/** What was checked against a camera's bounds lies in what it is set to read. */
async function cutOut([across, down, wanted, exposureMs]: readonly [AxisBounds, AxisBounds, { readonly colPx: number; readonly rowPx: number; readonly widthPx: number; readonly heightPx: number }, number]): Promise<void> {
  const sensor = { across, down };
  const isRefused = (await answerOf(() => {
    checkSettings({ exposureMs, gainDb: 0, region: wanted }, { exposureMinMs: 0.01, exposureMaxMs: 1000, gainMinDb: 0, gainMaxDb: 10, sensor });
    return true;
  })) === undefined;
  if (isRefused) return;
  const read = enclosingRegion(wanted, sensor);
  hold(read.colPx <= wanted.colPx && read.rowPx <= wanted.rowPx && read.colPx + read.widthPx >= wanted.colPx + wanted.widthPx && read.rowPx + read.heightPx >= wanted.rowPx + wanted.heightPx, 'what is read holds what is wanted');
  hold(read.colPx >= 0 && read.rowPx >= 0 && read.colPx + read.widthPx <= across.maxPx && read.rowPx + read.heightPx <= down.maxPx, 'what is read lies on the sensor');
}

/** A buffer says one size and has another: refused, or read without a byte from elsewhere. */
async function copy([format, widthPx, heightPx, rowPaddingBytes, bytes]: readonly [(typeof wireFormats)[number], number, number, number, number]): Promise<void> {
  const part = { colPx: 0, rowPx: 0, widthPx, heightPx };
  const pixels = await answerOf(() => copyPixels(new Uint8Array(bytes).fill(255), { widthPx, heightPx, rowPaddingBytes, format }, part, (size) => new SharedArrayBuffer(size)));
  if (pixels) hold(pixels.every((sample) => sample >= 2 ** Math.min(8, format.bits) - 1), 'every sample is the buffer\'s own');
}

export const genicamAnswers: Door = {
  name: 'answers of cameras',
  trials: [
    trial('formats on offer', fc.tuple(fc.option(fc.oneof(oddText, fc.constantFrom('RGB8', 'Mono12p')), { nil: undefined }), fc.array(code, { maxLength: 6 })), choose, 2),
    trial('regions and bounds', fc.tuple(axis, axis, region, fc.oneof(oddNumber, fc.double({ min: 0, max: 100 }))), cutOut, 3),
    trial('buffers', fc.tuple(fc.constantFrom(...wireFormats), fc.integer({ min: 0, max: 40 }), fc.integer({ min: 0, max: 20 }), fc.integer({ min: 0, max: 5 }), fc.integer({ min: 0, max: 6000 })), copy, 2),
    trial('features that are switched off', fc.tuple(oddNumber, oddNumber, oddNumber), ([read, min, max]) => {
      hold(isOff(offWithin(0, min, max), 0) || min !== 0 || Number.isNaN(read), 'the lowest value stands in');
    }),
  ],
};
