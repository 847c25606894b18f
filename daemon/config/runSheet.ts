import { z } from 'zod';
import { maxTableBytes } from '../materials/tableText.ts';
import { positive, um } from './quantities.ts';

const point = z.tuple([um('x'), um('y')]).describe('[x, y] in stage um');
const name = z.string().min(1).max(60);

const outline = z.union([
  z.strictObject({ rectangle: z.strictObject({ centreUm: point, widthUm: positive('in um'), heightUm: positive('in um'), angleDeg: z.number().min(-360).max(360).default(0) }) }),
  z.strictObject({ polygon: z.array(point).min(3).max(200) }),
  z.strictObject({ circle: z.strictObject({ centreUm: point, radiusUm: positive('in um') }) }),
]);

const mark = z.strictObject({ chipUm: z.tuple([um('x'), um('y')]).describe('[x, y] in the chip\'s own frame'), stageUm: point });

const chip = z.strictObject({
  name,
  outline,
  edgeMarginUm: z.number().min(0).max(10_000).describe('rim that is not scanned').default(300),
  skip: z.array(outline).max(20).describe('areas on the chip that are not scanned: metal, glue, a scratched corner').default([]),
  marks: z.array(mark).min(2).max(12).describe('reference marks, two at least: they fix the chip\'s own frame; without them its first corner and edge do').optional(),
  material: z.string().min(1).max(40).describe('one that is built in, or a name of your own together with materialTable'),
  materialTable: z.string().min(1).max(maxTableBytes).describe('n and k of a material of your own: a table file beside the run sheet, or its lines').optional(),
  substrate: z.enum(['sio2-si']).default('sio2-si'),
  oxideNm: z.number().min(0).max(2000).describe('what the wafer box says'),
  preparation: z.string().max(2000).describe('tape, presses, cleaning, time: for the yield later').default(''),
});

/** The schema of a run sheet: what to scan tonight. */
export const runSheetSchema = z.strictObject({
  title: name,
  operator: z.strictObject({ initials: z.string().min(1).max(8), contact: z.string().min(3).max(200) }),
  chips: z.array(chip).min(1).max(64),
  opticalPath: name.describe('a name under `opticalPaths` of the instrument'),
  chipOrder: z.enum(['fastest', 'asListed']).describe('fastest: the order that takes the least time').default('fastest'),
  overlap: z.number().min(0).max(0.5).default(0.1),
  lookFor: z
    .strictObject({
      layers: z.tuple([z.number().int().min(1).max(10), z.number().int().min(1).max(10)]).default([1, 4]),
      thicknessNm: z.tuple([z.number().min(0), z.number().positive()]).describe('looked for on chips of graphite and hBN instead of layers').optional(),
      leastUsableUm: z.number().min(0).max(500).describe('diameter of the largest circle that must fit').default(4),
    })
    .prefault({}),
  focus: z
    .strictObject({
      pointsPerChip: z.number().int().min(3).max(49).default(7),
      rangeUm: z.number().min(0.001).max(500).describe('searched above and below the expected focus').default(40),
      onTilt: z
        .enum(['divide', 'tell'])
        .describe('where a chip is tilted too much for a whole frame to be in focus. divide: the frame is taken at up to four heights and put together; tell: it is taken once, and the share in focus is told')
        .default('divide'),
    })
    .prefault({}),
  closeUps: z
    .strictObject({
      opticalPath: name.describe('a name under `opticalPaths` of the instrument: the one with the high magnification'),
      budgetMin: z.number().min(0.001).max(720).describe('minutes for all of them together; the best that fit are taken'),
      focusRangeUm: z.number().min(0.001).max(100).describe('searched above and below the expected focus at each flake').default(6),
      stackFrames: z.number().int().min(1).max(25).describe('frames through focus, of which the sharpest is kept').default(5),
      stackStepUm: z.number().min(0.001).max(20).describe('from one of them to the next; half the depth of field when left out').optional(),
    })
    .describe('after the last tile, the flakes most worth it are looked at again at high magnification')
    .optional(),
  keep: z.strictObject({ rawFrames: z.boolean().describe('every whole frame as the camera gave it, lossless').default(false) }).prefault({}),
  atTheEnd: z.strictObject({ lamp: z.enum(['off', 'keep']).default('off'), raiseObjective: z.boolean().default(true) }).prefault({}),
});

export type RunSheet = z.infer<typeof runSheetSchema>;
export type ChipSheet = RunSheet['chips'][number];
